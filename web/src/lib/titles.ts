/** What readings are called: the server's names and order, looked up by id. */

import type { ReadingGroup } from './wire.ts'

export interface Titled {
  id: string
  /** Inside its group. */
  title: string
  /** By itself: heading and title. */
  full: string
}

/** All readings of several lists in the order of the first that has them, each once. */
export function listed(lists: ReadingGroup[][]): Titled[] {
  const seen = new Map<string, Titled>()
  for (const group of lists.flat()) {
    for (const { id, title } of group.readings) {
      if (!seen.has(id)) seen.set(id, { id, title, full: `${group.heading}: ${title}` })
    }
  }
  return [...seen.values()]
}

/** Whether every word of a search occurs in the texts. */
export function matches(search: string, ...texts: (string | undefined)[]): boolean {
  const text = texts.join(' ').toLowerCase().replaceAll('_', ' ')
  return search.toLowerCase().split(/\s+/).every((word) => text.includes(word))
}
