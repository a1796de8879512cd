// Whoever types a password may look at it: by a box of the forms that ask for one.
(() => {
  const box = document.getElementById("show-password");
  if (!box) return;
  const fields = document.querySelectorAll("input[type=password]");
  box.addEventListener("change", () => fields.forEach((one) => { one.type = box.checked ? "text" : "password"; }));
})();

// How strong a new password is, told by the server while it is typed.
(() => {
  const [field, meter, words] = ["new", "strength", "strength-words"].map((id) => document.getElementById(id));
  if (!meter) return;
  let waits, asked = 0;
  const tell = (grade, text) => { meter.value = grade; words.textContent = `Strength: ${text}`; };
  const ask = async () => {
    const mine = ++asked;
    if (!field.value) return tell(0, "nothing typed yet");
    try {
      const answer = await fetch(`${field.form.action}/strength`, {
        method: "POST", body: new URLSearchParams({ new: field.value }),
      });
      const told = await answer.json();
      if (mine === asked) tell(told.grade, [told.words, told.why].filter(Boolean).join(". "));
    } catch {
      if (mine === asked) tell(0, "not known, as the server did not answer");
    }
  };
  field.addEventListener("input", () => { clearTimeout(waits); waits = setTimeout(ask, 250); });
  if (field.value) ask(); // typed, or put back by the browser, before this was loaded
})();
