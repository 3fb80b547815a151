/** Who is signed in, and what may be done: the server's table decides, pages only leave out what it would refuse. */

import * as calls from './calls.ts'
import { onStranger } from './client.ts'
import type { Session } from './wire.ts'

/** Everything or nothing; accounts are for directors alone. */
function may(all: boolean): Session['may'] {
  return { work: all, bench: all, remark: all, class: all, roster: all, decide: all, examine: all, gradings: all, retention: all, accounts: false }
}

class Signed {
  /** What the server last said; `null` before it has answered. */
  private said = $state<Session | null>(null)
  /** Whether the server has answered, or cannot. */
  isSettled = $state(false)
  /** Whether somebody was signed in before it ended by itself. */
  ended = $state(false)

  constructor() {
    // A refusal of the server shows that the time is over, or that the first account was made meanwhile.
    onStranger(() => {
      if (this.said && !this.mustSignIn) {
        this.ended = this.said.account !== null
        this.said = { accounts: true, account: null, may: may(false) }
      }
    })
  }

  get isKnown(): boolean {
    return this.said !== null
  }

  get mustSignIn(): boolean {
    return this.said !== null && this.said.accounts && this.said.account === null
  }

  get account(): Session['account'] {
    return this.said?.account ?? null
  }

  /** Until the server has answered nothing is left out: it stays on the bench as it is without accounts. */
  get may(): Session['may'] {
    return this.said?.may ?? may(true)
  }

  /** Asks the server. Where it does not answer the pages say so themselves. */
  async look(): Promise<void> {
    try {
      this.said = await calls.session()
    } finally {
      this.isSettled = true
    }
  }

  async signIn(code: string, password: string): Promise<void> {
    this.said = await calls.signIn(code, password)
    this.ended = false
  }

  async signOut(): Promise<void> {
    await calls.signOut()
    this.ended = false
    await this.look()
  }

  async changePassword(old: string, next: string): Promise<void> {
    this.said = await calls.ownPassword(old, next)
  }
}

export const session = new Signed()
