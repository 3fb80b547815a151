/** Where one is: the address bar is the only place that knows, so that links, reloads and the back button work. */

export type Bench = 'model' | 'section' | 'ring'
export type Side = 'verdict' | 'readings' | 'remarks'

/** `learners` is the roster itself. */
export type ClassPart = 'learners' | 'attempts' | 'report' | 'examiners' | 'gradings'

export type Route =
  | { page: 'start' }
  | { page: 'attempt'; id: string; bench: Bench }
  /** `right` is another attempt, or `target`: that of the left one. */
  | { page: 'compare'; left: string; right: string }
  | { page: 'kiosk' }
  | { page: 'account' }
  | { page: 'accounts' }
  | { page: 'audit' }
  | { page: 'class'; part: ClassPart }
  /** Where an examiner grades blind. */
  | { page: 'grading'; grading: string; examiner: string }
  | { page: 'learner'; code: string }
  | { page: 'missing'; path: string }

const BENCHES: readonly string[] = ['model', 'section', 'ring']
const CLASS_PARTS: readonly string[] = ['attempts', 'report', 'examiners', 'gradings']

/** In place of the second attempt: the target of the first. */
export const TARGET = 'target'

/** The route of a path. */
export function parse(path: string): Route {
  const parts = path.split('/').filter(Boolean).map(decodeURIComponent)
  const [first, second, third] = parts
  if (parts.length === 0) return { page: 'start' }
  if (first === 'kiosk' && parts.length === 1) return { page: 'kiosk' }
  if ((first === 'account' || first === 'accounts' || first === 'audit') && parts.length === 1) return { page: first }
  if (first === 'learner' && second && parts.length === 2) return { page: 'learner', code: second }
  if (first === 'class') {
    if (parts.length === 1) return { page: 'class', part: 'learners' }
    if (parts.length === 2 && CLASS_PARTS.includes(second!)) return { page: 'class', part: second as ClassPart }
    if (parts.length === 4 && second === 'gradings') return { page: 'grading', grading: third!, examiner: parts[3]! }
  }
  if (first === 'attempt' && second && parts.length <= 3) {
    const bench = third ?? 'model'
    if (BENCHES.includes(bench)) return { page: 'attempt', id: second, bench: bench as Bench }
  }
  if (first === 'compare' && second && third && parts.length === 3) {
    return { page: 'compare', left: second, right: third }
  }
  return { page: 'missing', path }
}

/** The path of a route. */
export function path(route: Route): string {
  const part = encodeURIComponent
  switch (route.page) {
    case 'start':
      return '/'
    case 'kiosk':
    case 'account':
    case 'accounts':
    case 'audit':
      return `/${route.page}`
    case 'attempt':
      return `/attempt/${part(route.id)}${route.bench === 'model' ? '' : `/${route.bench}`}`
    case 'compare':
      return `/compare/${part(route.left)}/${part(route.right)}`
    case 'class':
      return route.part === 'learners' ? '/class' : `/class/${route.part}`
    case 'grading':
      return `/class/gradings/${part(route.grading)}/${part(route.examiner)}`
    case 'learner':
      return `/learner/${part(route.code)}`
    case 'missing':
      return route.path
  }
}

/** `numbers` of a query value such as `30,-5,1.2`, or `null` if there are not `n` of them. */
export function numbers(text: string | null, n: number): number[] | null {
  const values = (text ?? '').split(',').map(Number)
  return text && values.length === n && values.every(Number.isFinite) ? values : null
}
