/** What every browser test starts from: the real server on its own data folder, and the demo's scans as files. */

import { execFileSync, spawn, type ChildProcess } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

import AxeBuilder from '@axe-core/playwright'
import { test as base, expect, type Page } from '@playwright/test'

export { expect }

/** Ports of the servers are counted from here; another number lets two runs go on side by side. */
export const PORT = Number(process.env.KERF_E2E_PORT ?? 41_870)

const SUFFIX = process.platform === 'win32' ? '.exe' : ''

export function findKerf(): string {
  const target = process.env.CARGO_TARGET_DIR ?? join(import.meta.dirname, '../../target')
  const places = [process.env.KERF, join(target, `release/kerf${SUFFIX}`), join(target, `debug/kerf${SUFFIX}`)]
  const found = places.find((place) => place && existsSync(place))
  if (found) return found
  throw new Error('kerf is not built: run cargo build -p kerfwright-cli, or name the program in KERF')
}

/** Ends a process that was started, and waits until it has ended. */
export async function end(process: ChildProcess | null): Promise<void> {
  if (!process || process.exitCode !== null) return
  const ended = new Promise((resolve) => process.once('exit', resolve))
  process.kill()
  await ended
}

/** `kerf serve` as a process that can be stopped and started again on the same port and data. */
export class Server {
  readonly url: string
  private process: ChildProcess | null = null

  constructor(
    private readonly port: number,
    private readonly data: string,
    private readonly more: string[] = [],
  ) {
    this.url = `http://127.0.0.1:${port}`
  }

  async start(): Promise<void> {
    const wanted = ['serve', '--port', String(this.port), '--data', this.data, '--no-open', ...this.more]
    this.process = spawn(findKerf(), wanted, { stdio: ['ignore', 'ignore', 'inherit'] })
    for (let tries = 0; tries < 100; tries++) {
      if (await fetch(`${this.url}/api/v1/about`).then((answer) => answer.ok, () => false)) return
      await new Promise((resolve) => setTimeout(resolve, 100))
    }
    throw new Error('kerf serve did not answer within 10 s')
  }

  async stop(): Promise<void> {
    await end(this.process)
  }
}

export interface Demo {
  after: string
  before: string
  opposing: string
  readings: Record<string, { value: number | string; u95?: number; unit: string }>
  /** Row by row. */
  frame: { tooth_from_after: number[][] }
}

interface Fixtures {
  /** The id of a measured demo attempt. */
  measured: string
}

interface WorkerFixtures {
  server: Server
  demo: Demo
  attemptId: string
}

export const test = base.extend<Fixtures, WorkerFixtures>({
  server: [
    async ({}, use) => {
      const data = mkdtempSync(join(tmpdir(), 'kerf-e2e-'))
      const server = new Server(PORT, data)
      await server.start()
      await use(server)
      await server.stop()
      rmSync(data, { recursive: true, force: true })
    },
    { scope: 'worker', timeout: 60_000 },
  ],
  demo: [
    async ({}, use) => {
      const folder = mkdtempSync(join(tmpdir(), 'kerf-demo-'))
      execFileSync(findKerf(), ['demo', '--out', folder], { stdio: 'ignore' })
      const { readings, frame } = JSON.parse(readFileSync(join(folder, 'readings.json'), 'utf8')) as Pick<Demo, 'readings' | 'frame'>
      const [after, before, opposing] = ['after', 'before', 'opposing'].map((name) => join(folder, `${name}.stl`)) as [string, string, string]
      await use({ after, before, opposing, readings, frame })
      rmSync(folder, { recursive: true, force: true })
    },
    { scope: 'worker', timeout: 120_000 },
  ],
  attemptId: [
    async ({ server }, use) => {
      const post = async (path: string, body?: unknown): Promise<Record<string, unknown>> => {
        const headers = { 'content-type': 'application/json' }
        const answer = await fetch(`${server.url}/api/v1${path}`, { method: 'POST', headers, body: body ? JSON.stringify(body) : undefined })
        return (await answer.json()) as Record<string, unknown>
      }
      const demo = await post('/demo')
      const scans = demo.scans as { id: string; role: string }[]
      const roles = Object.fromEntries(scans.map((scan) => [scan.role, scan.id]))
      const { tooth, exercise, stage, learner } = demo
      const { id } = await post('/attempts', { ...roles, tooth, exercise, stage, learner })
      for (let tries = 0; tries < 600; tries++) {
        const { state } = (await (await fetch(`${server.url}/api/v1/attempts/${id as string}`)).json()) as { state: string }
        if (state === 'done') break
        if (state === 'refused') throw new Error('the demo was refused')
        await new Promise((resolve) => setTimeout(resolve, 100))
      }
      await use(id as string)
    },
    { scope: 'worker', timeout: 120_000 },
  ],
  measured: async ({ attemptId }, use) => use(attemptId),
  baseURL: async ({ server }, use) => use(server.url),
  page: async ({ page }, use) => {
    const faults: string[] = []
    page.on('pageerror', (error) => faults.push(error.message))
    page.on('console', (message) => {
      if (message.type() === 'error' && !/Failed to load resource|ERR_CONNECTION/.test(message.text())) faults.push(message.text())
    })
    await use(page)
    expect(faults).toEqual([])
  },
})

/** The triangles of a binary STL within so many millimetres of the tooth's axis. */
export function cropped(stl: Buffer, tooth_from_scan: number[][], radius_mm: number): Buffer {
  const kept: Buffer[] = []
  for (let start = 84; start < stl.length; start += 50) {
    const corner = [0, 4, 8].map((offset) => stl.readFloatLE(start + 12 + offset))
    const part = (row: number): number => tooth_from_scan[row]!.reduce((sum, x, k) => sum + x * (corner[k] ?? 1), 0)
    if (Math.hypot(part(0), part(1)) < radius_mm) kept.push(stl.subarray(start, start + 50))
  }
  const head = Buffer.alloc(84)
  head.writeUInt32LE(kept.length, 80)
  return Buffer.concat([head, ...kept])
}

/** The page has no fault that axe-core finds. */
export async function expectAccessible(page: Page): Promise<void> {
  // A page that is still on its way has no heading yet.
  await page.locator('h1').first().waitFor({ state: 'attached' })
  const { violations } = await new AxeBuilder({ page }).withTags(['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']).analyze()
  expect(violations.map(({ id, nodes }) => `${id}: ${nodes.map((node) => node.target.join(' ')).join(', ')}`)).toEqual([])
}

/** Colours in the middle of a model, three numbers a pixel. */
export async function middleOf(page: Page, k = 0): Promise<number[]> {
  const box = (await page.locator('.stage canvas').nth(k).boundingBox())!
  const clip = { x: Math.round(box.x + box.width / 2) - 110, y: Math.round(box.y + box.height / 2) - 90, width: 220, height: 180 }
  const png = (await page.screenshot({ clip })).toString('base64')
  return page.evaluate(async (png) => {
    const bytes = Uint8Array.from(atob(png), (char) => char.charCodeAt(0))
    const image = await createImageBitmap(new Blob([bytes], { type: 'image/png' }))
    const context = new OffscreenCanvas(image.width, image.height).getContext('2d')!
    context.drawImage(image, 0, 0)
    return [...context.getImageData(0, 0, image.width, image.height).data].filter((_, k) => k % 4 < 3)
  }, png)
}

/** The model is drawn with its map: the middle is full of strong colours, which neither paper nor ivory has. */
export async function expectDrawn(page: Page, share = 0.05): Promise<void> {
  const strong = async (): Promise<number> => {
    const colours = await middleOf(page)
    let n = 0
    for (let k = 0; k < colours.length; k += 3) {
      const rgb = colours.slice(k, k + 3)
      if (Math.max(...rgb) - Math.min(...rgb) > 60) n++
    }
    return (3 * n) / colours.length
  }
  await expect.poll(strong, { timeout: 30_000 }).toBeGreaterThan(share)
}
