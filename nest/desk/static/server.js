// What the desk asks its server, and what it hears from it.

export class Refused extends Error {
  constructor(said, status) { super(said); this.status = status; }
}

export async function ask(path, body) { return (await answered(path, body)).json(); }

// A file.
export async function take(path, body) { return (await answered(path, body)).blob(); }

async function answered(path, body) {
  const options = body === undefined ? {} : {
    method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body),
  };
  let answer;
  try {
    answer = await fetch(path, options);
  } catch {
    throw new Refused("The desk does not answer; is vampyield desk still running?", 0);
  }
  if (answer.ok) return answer;
  const data = await answer.json().catch(() => ({}));
  throw new Refused(data.said || `The desk answers ${answer.status}.`, answer.status);
}

// Each kind of event has its own listener, by name.
export function hear(listeners) {
  const events = new EventSource("/events");
  for (const [kind, heard] of Object.entries(listeners)) {
    events.addEventListener(kind, (event) => heard(JSON.parse(event.data)));
  }
}

export const name = (text) => encodeURIComponent(text);
