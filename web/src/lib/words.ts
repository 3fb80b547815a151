/** Numbers and names as people read them. */

const UNITS: Record<string, [string, number]> = {
  mm: [' mm', 2],
  deg: ['°', 1],
  um: [' µm', 0],
  mm2: [' mm²', 2],
  mm3: [' mm³', 1],
  pct: [' %', 1],
}

/** A value with its unit: `1.52 mm`, `−3.1°`. */
export function amount(value: number | string, unit: string): string {
  if (typeof value === 'string') return value
  const [suffix, decimals] = UNITS[unit] ?? ['', 2]
  return number(value, decimals) + suffix
}

/** Decimals with which values of a unit are written. */
export function decimalsOf(unit: string): number {
  return UNITS[unit]?.[1] ?? 2
}

/** A unit behind a number: ` mm`, `°`. */
export function unitOf(unit: string): string {
  return UNITS[unit]?.[0] ?? ''
}

/** `± 0.03 mm`. */
export function spread(u95: number | null | undefined, unit: string): string {
  return u95 === undefined || u95 === null ? '' : `± ${amount(u95, unit)}`
}

/** A number with a true minus and no negative zero. */
export function number(value: number, decimals: number): string {
  const text = value.toFixed(decimals)
  return Number(text) === 0 ? text.replace('-', '') : text.replace('-', '−')
}

/** `2.1 MB`. */
export function size(bytes: number): string {
  if (bytes < 1000) return `${bytes} bytes`
  return bytes < 1e6 ? `${Math.round(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`
}

/** `finish_line` and `finish-line` become `Finish line`. */
export function phrase(id: string): string {
  const words = id.replace(/[_-]+/g, ' ').trim()
  return capital(words)
}

/** With a capital letter at its beginning, as a sentence or a heading has it. */
export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1)
}

/** The day and time of an ISO string in the reader's own manner. */
export function moment(iso: string): string {
  const date = new Date(iso)
  if (Number.isNaN(date.getTime())) return iso
  return date.toLocaleString(undefined, { day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit' })
}

/** What the sentences of the command line call by its options, as it is called on the pages. */
const ON_THE_PAGES: [RegExp, string][] = [
  [/: give (?:it|their scan) with --(?:before|opposing)/g, ': drop it too'],
  [/ \(--(?:before|opposing)\)/g, ''],
  [/AFTER holds/g, 'the one after cutting holds'],
  [/than --before/g, 'than the one before'],
  [/; exchange the two files/g, '; exchange their roles'],
  [/--before/g, 'the scan before cutting'],
  [/check --opposing-frame/g, 'check with which scan the opposing one lies'],
  [/, for example --tooth \d+,\d+,/g, ' in the tooth chart,'],
  [/ with --tooth\b/g, ''],
  [/^(.*: )?--tooth: /g, '$1'],
  [/; say it with --mesial-point.*$/g, '; tap its mesial side'],
  [/--mesial-point lies/g, 'the tapped point lies'],
  [/: name them$/g, ': choose them in the tooth chart'],
]

/** A sentence of the core without words of the command line. */
export function onPages(text: string): string {
  return ON_THE_PAGES.reduce((told, [words, ours]) => told.replace(words, ours), text)
}
