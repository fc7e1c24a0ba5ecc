// A button that prints the page; without this script the browser's own menu does.

const button = document.querySelector("#print");
button.hidden = false;
button.addEventListener("click", () => window.print());
