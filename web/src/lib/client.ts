/** Asks the server; every fault arrives as one `Refusal` that can be shown as it is. */

/** Why a request was not answered: the server's own sentence, or that it is gone. */
export class Refusal extends Error {
  constructor(
    readonly code: string,
    message: string,
    readonly status: number,
  ) {
    super(message)
  }

  /** Whether no server answered at all. */
  get isGone(): boolean {
    return this.status === 0
  }
}

/** What went wrong, as it can be shown. */
export function sentence(error: unknown): string {
  return error instanceof Error ? error.message : String(error)
}

type Listener = (isThere: boolean) => void
const listeners = new Set<Listener>()

/** Tells whenever a request shows that the server answers or does not. */
export function onReach(listener: Listener): () => void {
  listeners.add(listener)
  return () => listeners.delete(listener)
}

const strangers = new Set<() => void>()

/** Calls back whenever the server says that nobody is signed in. */
export function onStranger(listener: () => void): () => void {
  strangers.add(listener)
  return () => strangers.delete(listener)
}

/** Tells when the server answers again after it did not. */
export function onReturn(listener: () => void): () => void {
  let wasGone = false
  return onReach((isThere) => {
    if (isThere && wasGone) listener()
    wasGone = !isThere
  })
}

/** The value of the JSON answer. */
export async function ask<T>(path: string, init: RequestInit = {}): Promise<T> {
  const answer = await reach(path, init)
  return answer.status === 204 ? (undefined as T) : ((await answer.json()) as T)
}

/** The bytes of the answer. */
export async function bytes(path: string, signal?: AbortSignal): Promise<ArrayBuffer> {
  return (await reach(path, { signal })).arrayBuffer()
}

/** The value of the JSON answer to a JSON body. */
export function send<T>(path: string, body: unknown, init: RequestInit = {}): Promise<T> {
  const headers = { 'content-type': 'application/json' }
  return ask<T>(path, { method: 'POST', headers, body: JSON.stringify(body), ...init })
}

async function reach(path: string, init: RequestInit): Promise<Response> {
  let answer: Response
  try {
    // Only our own pages can send this header: the server asks for it before anything is changed.
    const headers = { ...init.headers, 'x-kerfwright': '1' }
    answer = await fetch(`/api/v1${path}`, { credentials: 'same-origin', ...init, headers })
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') throw error
    tell(false)
    throw new Refusal('gone', 'The Kerfwright server does not answer. Start it again with kerf serve.', 0)
  }
  tell(true)
  if (answer.ok) return answer
  const refused = await refusal(answer)
  if (refused.code === 'sign_in') for (const listener of strangers) listener()
  throw refused
}

function tell(isThere: boolean): void {
  for (const listener of listeners) listener(isThere)
}

async function refusal(answer: Response): Promise<Refusal> {
  const text = await answer.text()
  try {
    const { error } = JSON.parse(text) as { error: { code: string; message: string } }
    return new Refusal(error.code, error.message, answer.status)
  } catch {
    return new Refusal('unexpected', `The server answered ${answer.status} without saying why.`, answer.status)
  }
}

/** Keeps one request under way and the newest of those that came meanwhile; what lies between is dropped. */
export function latestOnly<In, Out>(
  run: (input: In) => Promise<Out>,
  take: (output: Out, input: In) => void,
  fail: (error: unknown) => void,
): (input: In) => void {
  let isBusy = false
  let next: { input: In } | null = null
  const start = async (input: In): Promise<void> => {
    isBusy = true
    try {
      take(await run(input), input)
    } catch (error) {
      fail(error)
    }
    isBusy = false
    const waiting = next
    next = null
    if (waiting) void start(waiting.input)
  }
  return (input) => {
    if (isBusy) next = { input }
    else void start(input)
  }
}
