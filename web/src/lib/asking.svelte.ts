/** A question to the server as state: what came, or why nothing did. */

import { onReturn, sentence } from './client.ts'

export class Asking<T> {
  /** What came last; it stays while something newer is asked. */
  value = $state.raw<T | null>(null)
  fault = $state<string | null>(null)
  isBusy = $state(false)
  private turn = 0
  private last: (() => Promise<T>) | null = null

  /** Asks; an answer that was overtaken by a newer question is dropped. */
  ask(run: () => Promise<T>): void {
    const turn = ++this.turn
    this.last = run
    this.isBusy = true
    run().then(
      (value) => {
        if (turn === this.turn) this.settle(value, null)
      },
      (error: unknown) => {
        if (turn === this.turn) this.settle(null, sentence(error))
      },
    )
  }

  again(): void {
    if (this.last) this.ask(this.last)
  }

  /** Asks once more whenever the server is back; the returned function stops it. */
  onReturn(): () => void {
    return onReturn(() => this.again())
  }

  private settle(value: T | null, fault: string | null): void {
    this.value = value
    this.fault = fault
    this.isBusy = false
  }
}
