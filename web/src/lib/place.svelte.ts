/** The address as state that pages follow. */

import { parse, type Route } from './route.ts'

class Address {
  private href = $state(location.pathname + location.search)
  readonly url = $derived(new URL(this.href, location.origin))
  readonly route: Route = $derived(parse(this.url.pathname))

  constructor() {
    addEventListener('popstate', () => (this.href = location.pathname + location.search))
  }

  /** A query value. */
  get(key: string): string | null {
    return this.url.searchParams.get(key)
  }

  /** Goes to another page; the back button comes back. */
  go(href: string): void {
    history.pushState(null, '', href)
    this.href = href
  }

  /** Changes query values in place: `null` or the default removes one. */
  set(values: Record<string, string | null>, keep: 'push' | 'replace' = 'replace'): void {
    const url = new URL(this.url)
    for (const [key, value] of Object.entries(values)) {
      if (value === null) url.searchParams.delete(key)
      else url.searchParams.set(key, value)
    }
    // Commas and colons may stand in a query as they are, and read better so.
    const href = url.pathname + url.search.replaceAll('%2C', ',').replaceAll('%3A', ':')
    if (href === this.href) return
    if (keep === 'push') history.pushState(null, '', href)
    else history.replaceState(null, '', href)
    this.href = href
  }
}

export const address = new Address()

/** Makes a plain click on a link change the page without a reload. */
export function follow(event: MouseEvent): void {
  const link = (event.target as Element | null)?.closest?.('a')
  const isPlain = event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey && !event.altKey
  if (!link || !isPlain || link.target || link.hasAttribute('download') || link.origin !== location.origin) return
  if (link.pathname.startsWith('/api/') || link.getAttribute('href')?.startsWith('#')) return
  event.preventDefault()
  address.go(link.pathname + link.search)
}
