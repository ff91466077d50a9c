/** A question asked again and again while something changes: one in flight, the newest next; answers to older ones are no answer to it. */

/**
 * @template Question
 * @template Answer
 */
export class Newest {
  #ask;
  #answered;
  #failed;
  #earlier;
  /** @type {{question: Question} | null} */
  #waiting = null;
  #inFlight = false;
  #round = 0;

  /**
   * @param {(question: Question) => Promise<Answer>} ask
   * @param {(answer: Answer, question: Question) => void} answered Called for the newest question alone.
   * @param {(fault: unknown, question: Question) => void} failed Likewise.
   * @param {(answer: Answer, question: Question) => void} [earlier] Called for questions that a newer one waits behind.
   */
  constructor(ask, answered, failed, earlier = () => {}) {
    this.#ask = ask;
    this.#answered = answered;
    this.#failed = failed;
    this.#earlier = earlier;
  }

  /** Whether an answer is still to come. */
  get busy() {
    return this.#inFlight;
  }

  /**
   * Ask now, or as soon as the question in flight is answered.
   * @param {Question} question
   */
  ask(question) {
    this.#waiting = { question };
    this.#next();
  }

  /** Drop what waits, and the answer to what is in flight. */
  drop() {
    this.#waiting = null;
    this.#round += 1;
  }

  async #next() {
    if (this.#inFlight || this.#waiting === null) {
      return;
    }
    const { question } = this.#waiting;
    const round = this.#round;
    this.#waiting = null;
    this.#inFlight = true;
    /** @type {(newest: boolean) => void} */
    let tell;
    try {
      const answer = await this.#ask(question);
      tell = (newest) => (newest ? this.#answered : this.#earlier)(answer, question);
    } catch (fault) {
      tell = (newest) => newest && this.#failed(fault, question);
    }
    this.#inFlight = false;
    if (round === this.#round) {
      tell(this.#waiting === null);
    }
    this.#next();
  }
}
