/** Short messages at the foot of the page; each edit says how to take it back. */

export interface Notice {
  id: number
  text: string
  undo?: () => void | Promise<void>
}

const STAYS_MS = 9000

class Notices {
  list = $state<Notice[]>([])
  private next = 1

  say(text: string, undo?: Notice['undo']): void {
    const notice = { id: this.next++, text, undo }
    this.list = [...this.list.slice(-2), notice]
    setTimeout(() => this.drop(notice.id), STAYS_MS)
  }

  drop(id: number): void {
    this.list = this.list.filter((notice) => notice.id !== id)
  }

  /** Takes the newest edit back; tells whether there was one. */
  undoLast(): boolean {
    const last = this.list.findLast((notice) => notice.undo)
    if (!last) return false
    void last.undo?.()
    this.drop(last.id)
    return true
  }
}

export const notices = new Notices()
