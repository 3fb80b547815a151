/** Short messages at the foot of the page; each edit says how to take it back. */

import { sentence } from './client.ts'

export interface Notice {
  id: number
  text: string
  undo?: () => void | Promise<void>
  /** A later message about the same thing takes the place of this one. */
  about?: string
}

const STAYS_MS = 9000

class Notices {
  list = $state<Notice[]>([])
  private next = 1

  say(text: string, undo?: Notice['undo'], about?: string): void {
    const notice = { id: this.next++, text, undo, about }
    const others = this.list.filter((other) => !about || other.about !== about)
    this.list = [...others.slice(-2), notice]
    setTimeout(() => this.drop(notice.id), STAYS_MS)
  }

  drop(id: number): void {
    this.list = this.list.filter((notice) => notice.id !== id)
  }

  /** Takes an edit back; what then cannot be done is said. */
  async undo(notice: Notice): Promise<void> {
    this.drop(notice.id)
    try {
      await notice.undo?.()
    } catch (error) {
      this.say(`Not taken back: ${sentence(error)}`)
    }
  }

  /** Takes the newest edit back; tells whether there was one. */
  undoLast(): boolean {
    const last = this.list.findLast((notice) => notice.undo)
    if (!last) return false
    void this.undo(last)
    return true
  }
}

export const notices = new Notices()
