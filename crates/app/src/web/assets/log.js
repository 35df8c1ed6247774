// A file that is picked stands in the form as text; the page then shows what is understood of it.

const picks = document.getElementById("pick-log");
if (picks) {
  const input = picks.querySelector("input");
  const large = document.getElementById("log-too-large");
  input.addEventListener("change", async () => {
    const file = input.files[0];
    if (!file) return;
    large.hidden = file.size <= Number(input.dataset.most) * 2;
    if (!large.hidden) return;
    const bytes = new Uint8Array(await file.arrayBuffer());
    const [a, b] = bytes;
    const coding = a === 0xff && b === 0xfe ? "utf-16le" : a === 0xfe && b === 0xff ? "utf-16be" : "utf-8";
    const text = new TextDecoder(coding).decode(bytes);
    large.hidden = text.length <= Number(input.dataset.most);
    if (!large.hidden) return;
    const form = input.form;
    document.getElementById("log-text").value = text;
    // What was said of another file is not said of this one.
    for (const one of form.querySelectorAll("select:not(#log-conductor), input[inputmode]")) one.value = "";
    form.requestSubmit(form.querySelector("details button"));
  });
}
