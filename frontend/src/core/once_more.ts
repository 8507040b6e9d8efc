/** Work that is done once more where it was asked for while it ran: what came in meanwhile is not left behind. */
export class OnceMore<Result> {
  private running: Promise<Result> | null = null;
  private asked = false;

  /** `goesOn` tells of a result whether it is worth doing once more at once. */
  constructor(
    private readonly work: () => Promise<Result>,
    private readonly goesOn: (result: Result) => boolean,
  ) {}

  /** Do it, or have it done once more by whoever is at it; gives what came of the last. */
  run(): Promise<Result> {
    if (this.running === null) this.running = this.rounds();
    else this.asked = true;
    return this.running;
  }

  private async rounds(): Promise<Result> {
    try {
      let result: Result;
      do {
        // Whatever is asked for from here on may come too late for this round.
        this.asked = false;
        await Promise.resolve();
        result = await this.work();
      } while (this.asked && this.goesOn(result));
      return result;
    } finally {
      // In one step with the look at `asked` above: nobody can ask in between.
      this.running = null;
    }
  }
}
