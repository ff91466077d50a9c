// Questions that come faster than their answers: one at a time is asked, and the newest counts.
import assert from "node:assert/strict";
import { test } from "node:test";

import { Newest } from "../../custom_components/chargehand/frontend/newest.js";

/** A server that answers when it is told to. */
class Server {
  /** @type {{question: string, resolve: (answer: string) => void, reject: (fault: Error) => void}[]} */
  open = [];
  /** @type {string[]} */
  heard = [];
  most = 0;
  /** @type {string[]} */
  told = [];
  /** @type {string[]} */
  earlier = [];
  newest = new Newest(
    (/** @type {string} */ question) => {
      const answer = /** @type {PromiseWithResolvers<string>} */ (Promise.withResolvers());
      this.heard.push(question);
      this.open.push({ question, resolve: answer.resolve, reject: answer.reject });
      this.most = Math.max(this.most, this.open.length);
      return answer.promise;
    },
    (answer, question) => this.told.push(`${question}: ${answer}`),
    (fault, question) => this.told.push(`${question}! ${/** @type {Error} */ (fault).message}`),
    (answer, question) => this.earlier.push(`${question}: ${answer}`),
  );

  /** @param {string} [fault] */
  async answer(fault) {
    const { question, resolve, reject } = /** @type {Server["open"][0]} */ (this.open.shift());
    if (fault) {
      reject(new Error(fault));
    } else {
      resolve(question.toUpperCase());
    }
    // Answers are handed on in a few turns of the queue of promises.
    await new Promise((resolved) => setImmediate(resolved));
  }
}

test("one question is in flight, the newest is asked next, and those between are never asked", async () => {
  const server = new Server();
  for (const question of ["a", "b", "c", "d"]) {
    server.newest.ask(question);
  }
  assert.deepEqual(server.heard, ["a"]);
  await server.answer();
  assert.deepEqual(server.heard, ["a", "d"]);
  await server.answer();
  assert.deepEqual(server.told, ["d: D"]);
  assert.equal(server.most, 1);
  assert.equal(server.newest.busy, false);
});

test("an answer to an older question is dropped, also where it is a fault", async () => {
  const server = new Server();
  server.newest.ask("a");
  server.newest.ask("b");
  await server.answer("no");
  assert.deepEqual(server.told, []);
  await server.answer();
  assert.deepEqual(server.told, ["b: B"]);
});

test("the last answer comes although nothing is asked any more: the pointer was let go", async () => {
  const server = new Server();
  server.newest.ask("a");
  assert.equal(server.newest.busy, true);
  await server.answer();
  assert.deepEqual(server.told, ["a: A"]);
});

test("a fault of the newest is told, and the next question is asked as ever", async () => {
  const server = new Server();
  server.newest.ask("a");
  await server.answer("away");
  server.newest.ask("b");
  await server.answer();
  assert.deepEqual(server.told, ["a! away", "b: B"]);
});

test("what is dropped is not told, and what is asked afterwards is", async () => {
  const server = new Server();
  server.newest.ask("a");
  server.newest.ask("b");
  server.newest.drop();
  await server.answer();
  assert.deepEqual([server.told, server.heard], [[], ["a"]]);
  server.newest.ask("c");
  server.newest.drop();
  server.newest.ask("d");
  await server.answer();
  await server.answer();
  assert.deepEqual(server.told, ["d: D"]);
});

test("under questions that never rest, earlier answers are told as such, and after a drop none is", async () => {
  const server = new Server();
  server.newest.ask("a");
  server.newest.ask("b");
  await server.answer();
  server.newest.ask("c");
  await server.answer();
  assert.deepEqual(server.earlier, ["a: A", "b: B"]);
  server.newest.drop();
  server.newest.ask("d");
  await server.answer();
  assert.deepEqual(server.earlier, ["a: A", "b: B"]);
  assert.deepEqual(server.told, []);
});
