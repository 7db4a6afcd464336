// Making elements. Text from files goes in as text, never as markup.
function html(name, text) {
  const made = document.createElement(name);
  if (text !== undefined) made.textContent = text;
  return made;
}

const data = JSON.parse(document.getElementById("data").textContent);
const plan = data.plan;
const said = document.getElementById("said");
