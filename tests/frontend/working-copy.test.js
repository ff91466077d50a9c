// What is shown while windows are changed here, and others arrive.
import assert from "node:assert/strict";
import { test } from "node:test";

import { WorkingCopy } from "../../custom_components/chargehand/frontend/working-copy.js";

/** @param {string} end */
const until = (end) => ({ charge: [{ number: 1, start: "01:00", end, power: 2000 }], discharge: [] });

const HELD = until("05:00");

/** @param {WorkingCopy} copy */
const shown = (copy) => copy.shown.charge.map(({ end }) => end).join();

function begun() {
  const copy = new WorkingCopy();
  copy.arrive(HELD);
  return copy;
}

test("what the server shows is shown until somebody changes it here", () => {
  const copy = begun();
  assert.deepEqual([shown(copy), copy.working, copy.canUndo], ["05:00", false, false]);
  assert.equal(copy.arrive(until("04:00")), "theirs");
  assert.deepEqual([shown(copy), copy.working], ["04:00", false]);
  assert.equal(copy.arrive(until("04:00")), "same");
});

test("an edit is a copy until the draft arrives that was made of it", () => {
  const copy = begun();
  assert.ok(copy.change(until("06:00")));
  assert.deepEqual([shown(copy), copy.working], ["06:00", true]);
  copy.send();
  assert.equal(copy.arrive(until("06:00")), "own");
  copy.laid(until("06:00"));
  assert.deepEqual([shown(copy), copy.working, copy.canUndo], ["06:00", false, true]);
});

test("the answer may come before the draft does: the copy is shown meanwhile", () => {
  const copy = begun();
  copy.change(until("06:00"));
  copy.laid(copy.send());
  assert.deepEqual([shown(copy), copy.working], ["06:00", true]);
  // As the inverter can hold it.
  assert.equal(copy.arrive(until("05:55")), "own");
  assert.deepEqual([shown(copy), copy.working], ["05:55", false]);
});

test("the draft may come before the answer, rounded", () => {
  const copy = begun();
  copy.change(until("06:00"));
  const sent = copy.send();
  copy.arrive(until("05:55"));
  assert.equal(shown(copy), "06:00");
  copy.laid(sent);
  assert.deepEqual([shown(copy), copy.working], ["05:55", false]);
});

test("a draft that arrives during a drag does not tear it away", () => {
  const copy = begun();
  copy.begin();
  copy.change(until("06:00"));
  assert.equal(copy.arrive(until("03:00")), "theirs");
  assert.equal(shown(copy), "06:00");
  copy.change(until("06:30"));
  assert.ok(copy.end());
  assert.deepEqual([shown(copy), copy.working], ["06:30", true]);
});

test("a drag that is given up leaves what was there, or what has arrived meanwhile", () => {
  const copy = begun();
  copy.begin();
  copy.change(until("06:00"));
  copy.cancel();
  assert.deepEqual([shown(copy), copy.working, copy.canUndo, copy.dragging], ["05:00", false, false, false]);
  copy.begin();
  copy.change(until("06:00"));
  copy.arrive(until("03:00"));
  copy.cancel();
  assert.deepEqual([shown(copy), copy.working], ["03:00", false]);
});

test("a drag back to where it began changes nothing", () => {
  const copy = begun();
  copy.begin();
  copy.change(until("06:00"));
  copy.change(until("05:00"));
  assert.equal(copy.end(), false);
  assert.deepEqual([copy.working, copy.canUndo], [false, false]);
});

test("each edit is taken back by itself, and a whole drag is one edit", () => {
  const copy = begun();
  copy.change(until("06:00"));
  copy.begin();
  for (const end of ["06:10", "06:20", "06:30"]) {
    copy.change(until(end));
  }
  copy.end();
  assert.ok(copy.undo());
  assert.equal(shown(copy), "06:00");
  assert.ok(copy.undo());
  assert.equal(shown(copy), "05:00");
  assert.equal(copy.undo(), false);
});

test("while a second edit is on its way, the draft of the first does not undo it", () => {
  const copy = begun();
  copy.change(until("06:00"));
  copy.send();
  copy.change(until("07:00"));
  copy.send();
  assert.equal(copy.arrive(until("06:00")), "own");
  assert.equal(shown(copy), "07:00");
  assert.equal(copy.arrive(until("07:00")), "own");
  assert.deepEqual([shown(copy), copy.working], ["07:00", false]);
});

test("another hand's draft after mine is shown, and my edits cannot be taken back over it", () => {
  const copy = begun();
  copy.change(until("06:00"));
  const sent = copy.send();
  copy.arrive(sent);
  copy.laid(sent);
  assert.equal(copy.arrive(until("02:00")), "theirs");
  assert.deepEqual([shown(copy), copy.canUndo], ["02:00", false]);
});

test("what was refused stays on this screen", () => {
  const copy = begun();
  copy.change(until("06:00"));
  copy.send();
  copy.refused();
  assert.deepEqual([shown(copy), copy.working], ["06:00", true]);
  copy.drop();
  assert.deepEqual([shown(copy), copy.working, copy.canUndo], ["05:00", false, false]);
});
