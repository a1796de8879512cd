/* Bringing files in: dropped or chosen, sent one after the other, progress in words and as a bar. */
(function () {
  const waiting = [];
  let busy = false;

  const words = (bytes) => bytes > 1e6 ? (bytes / 1e6).toFixed(1) + " MB" : Math.ceil(bytes / 1e3) + " kB";

  function line(file) {
    const item = document.createElement("li");
    const label = document.createElement("span");
    const bar = document.createElement("progress");
    label.textContent = file.name + ", " + words(file.size) + ": waiting";
    bar.max = 100; bar.value = 0;
    bar.setAttribute("aria-label", "Sending " + file.name);
    item.append(label, bar);
    document.getElementById("bring-progress").append(item);
    return {label, bar, item, name: file.name};
  }

  function next() {
    if (busy || !waiting.length) return;
    const {file, shown} = waiting.shift();
    busy = true;
    const request = new XMLHttpRequest();
    const told = JSON.parse(document.getElementById("_dash-config").textContent);
    request.open("POST", told.requests_pathname_prefix + "bring-in/file?name=" + encodeURIComponent(file.name));
    request.setRequestHeader("X-Taper", "bring-in");
    request.upload.onprogress = (event) => {
      if (event.lengthComputable) shown.bar.value = (100 * event.loaded) / event.total;
      shown.label.textContent = file.name + ": sending, " + words(event.loaded) + " of " + words(file.size);
    };
    const done = (says, keys) => {
      busy = false;
      shown.bar.value = 100;
      shown.label.textContent = file.name + ": " + says;
      if (!keys) { shown.item.classList.add("refused"); shown.bar.remove(); }
      if (keys) {
        const before = JSON.parse(sessionStorage.getItem("bring-keys")) || [];  // where the page keeps its list
        dash_clientside.set_props("bring-keys", {data: before.concat(keys)});
      }
      next();
    };
    request.onload = () => {
      let answer = {};
      try { answer = JSON.parse(request.responseText); } catch (_) { answer = {because: "the server gave no answer"}; }
      if (request.status === 200) done("arrived", answer.keys);
      else done("not taken. " + (answer.because || request.statusText), null);
    };
    request.onerror = () => done("not taken: the connection to the server was lost; try again.", null);
    request.send(file);
  }

  function take(files) {
    for (const file of files) waiting.push({file, shown: line(file)});
    next();
  }

  document.addEventListener("click", (event) => {
    if (!event.target.closest || !event.target.closest("#bring-choose")) return;
    const input = document.createElement("input");
    input.type = "file"; input.multiple = true; input.accept = ".csv,.txt,.zip,.CSV,.TXT,.ZIP";
    input.onchange = () => take(input.files);
    input.click();
  });
  const zone = (event) => event.target.closest && event.target.closest("#bring-drop");
  document.addEventListener("dragover", (event) => { event.preventDefault(); if (zone(event)) zone(event).classList.add("over"); });
  document.addEventListener("dragleave", (event) => { if (zone(event)) zone(event).classList.remove("over"); });
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    const at = zone(event);
    if (!at) return;
    at.classList.remove("over");
    take(event.dataTransfer.files);
  });
})();
