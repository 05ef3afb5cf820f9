// Undo and redo without end: what was done on this page first, then the saves that the folder keeps, also those of earlier days.
import { T, changed, edited, get, post, settled, take, tell } from "./state.js";

export const canUndo = () => T.past.length > 0 || (T.newest > 0 && T.backed !== 1);
export const canRedo = () => T.future.length > 0 || T.ahead.length > 0;

export function undo() {
  if (!T.past.length) return earlier();
  T.future.push(T.doc);
  T.doc = T.past.pop();
  edited();
  return tell("One step back.");
}

export function redo() {
  if (!T.future.length) return again();
  T.past.push(T.doc);
  T.doc = T.future.pop();
  edited();
  return tell("One step on.");
}

let line = Promise.resolve(), after = () => {};
export const onStepped = (f) => { after = f; };

// to what the files held before a kept save; that is a save of its own, over which redo steps back again
async function step(number, backed, ahead, said) {
  const newest = T.newest, reply = await post("back", { number });
  if (reply.status !== 200) return tell(reply.body.refused);
  take(reply.body);
  T.newest = newest;  // where the steps of this page begin
  T.backed = backed;
  T.ahead = ahead(reply.body.newest);
  settled();
  after();
  changed();
  return tell(said);
}

// one after the other, and after what is being saved
function alone(go) {
  line = line.then(async () => {
    while ((T.dirty || T.saving) && !T.notice) await new Promise((done) => setTimeout(done, 40));
    if (!T.notice) await go();
  }).catch(() => tell("The server does not answer."));
  return line;
}

function earlier() {
  return alone(async () => {
    const steps = (await get("history")).body.steps || [], was = T.backed, ahead = T.ahead, least = was === null ? T.newest + 1 : was;
    const found = steps.find((s) => s.number < least);
    if (!found) { T.newest = 0; changed(); return tell("Nothing to undo."); }
    return step(found.number, found.number, (made) => (made > steps[0].number ? [...ahead, { number: made, was }] : ahead), `One step back: as before save ${found.number}.`);
  });
}

function again() {
  return alone(async () => {
    const last = T.ahead[T.ahead.length - 1], rest = T.ahead.slice(0, -1);
    if (!last) return tell("Nothing to redo.");
    return step(last.number, last.was, () => rest, "One step on.");
  });
}
