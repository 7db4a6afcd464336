// Making elements. Text from files goes in as text or as an attribute's value, never as markup.
const SVG = document.getElementById("outlines").namespaceURI;

function svg(name, attributes, ...children) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

function html(name, text) {
  const made = document.createElement(name);
  if (text !== undefined) made.textContent = text;
  return made;
}

const data = JSON.parse(document.getElementById("data").textContent);
const plan = data.plan;
const said = document.getElementById("said");
