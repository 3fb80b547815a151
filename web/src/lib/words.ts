/** Numbers and names as people read them. */

const UNITS: Record<string, [string, number]> = {
  mm: [' mm', 2],
  deg: ['°', 1],
  um: [' µm', 0],
  mm2: [' mm²', 2],
  mm3: [' mm³', 1],
  pct: [' %', 1],
}

const SPELT: Record<string, string> = { mip: 'jaws closed (MIP)', toc: 'total occlusal convergence' }

/** A value with its unit: `1.52 mm`, `−3.1°`. */
export function amount(value: number | string, unit: string): string {
  if (typeof value === 'string') return value
  const [suffix, decimals] = UNITS[unit] ?? ['', 2]
  return number(value, decimals) + suffix
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
  return words.charAt(0).toUpperCase() + words.slice(1)
}

/** A reading's id as a short phrase, without its unit: `wall.height.mesial_mm` → `Wall, height, mesial`. */
export function readingTitle(id: string): string {
  const parts = id.replace(/_(mm3|mm2|mm|um|deg|pct)$/, '').split('.')
  return phrase(parts.map((part) => SPELT[part] ?? part).join(', '))
}

/** The day and time of an ISO string in the reader's own manner. */
export function moment(iso: string): string {
  const date = new Date(iso)
  if (Number.isNaN(date.getTime())) return iso
  return date.toLocaleString(undefined, { day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit' })
}
