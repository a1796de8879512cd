// Whoever types a password may look at it: by a box of the forms that ask for one.
(() => {
  const box = document.getElementById("show-password");
  if (!box) return;
  const fields = document.querySelectorAll("input[type=password]");
  box.addEventListener("change", () => fields.forEach((one) => { one.type = box.checked ? "text" : "password"; }));
})();
