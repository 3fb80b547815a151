/** Light, dark, or as the system has it. */

export type Theme = 'system' | 'light' | 'dark'

export function theme(): Theme {
  const chosen = document.documentElement.dataset.theme
  return chosen === 'light' || chosen === 'dark' ? chosen : 'system'
}

export function setTheme(chosen: Theme): void {
  if (chosen === 'system') delete document.documentElement.dataset.theme
  else document.documentElement.dataset.theme = chosen
  try {
    localStorage.setItem('theme', chosen)
  } catch {
    // Without storage the choice holds until the page is left.
  }
}

/** Calls back whenever the colours change, by the switch or by the system. */
export function onTheme(changed: () => void): () => void {
  const query = matchMedia('(prefers-color-scheme: dark)')
  const watch = new MutationObserver(changed)
  watch.observe(document.documentElement, { attributeFilter: ['data-theme'] })
  query.addEventListener('change', changed)
  return () => {
    watch.disconnect()
    query.removeEventListener('change', changed)
  }
}

/** A colour of the stylesheet as the browser computes it now. */
export function colour(name: string): string {
  const probe = document.createElement('i')
  probe.style.color = `var(--${name})`
  document.body.append(probe)
  const value = getComputedStyle(probe).color
  probe.remove()
  return value
}
