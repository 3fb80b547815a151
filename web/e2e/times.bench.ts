/** Load and frame times in a real browser, printed as one JSON line; `npm run bench`. No limits: what is measured depends on the machine. */

import { readFileSync } from 'node:fs'
import { cpus } from 'node:os'
import { join } from 'node:path'

import { expect, test } from './bench.ts'

interface Times {
  n: number
  median_ms: number
  p95_ms: number
}

function times(values: number[]): Times {
  const sorted = [...values].sort((a, b) => a - b)
  const at = (share: number): number => Number((sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? NaN).toFixed(1))
  return { n: sorted.length, median_ms: at(0.5), p95_ms: at(0.95) }
}

/** Scans of another size than the demo's: a folder with after.stl, before.stl, opposing.stl. */
const FOLDER = process.env.KERF_SCANS

test('load times, the server knowing nothing of the scans', async ({ page, demo }) => {
  const report: Record<string, unknown> = { machine: `${cpus().length} × ${cpus()[0]?.model ?? 'unknown'}` }
  const files = FOLDER ? ['after', 'before', 'opposing'].map((name) => join(FOLDER, `${name}.stl`)) : [demo.after, demo.before, demo.opposing]

  await page.goto('/')
  const chosen = Date.now()
  await page.getByLabel('Scan files').setInputFiles(files)
  await drawn(page)
  report.first_picture_after_drop_ms = Date.now() - chosen
  await expect(page.getByLabel('Role of after.stl')).toHaveValue('after')
  await expect(page.getByLabel('Role of opposing.stl')).toHaveValue('opposing')
  report.roles_known_after_drop_ms = Date.now() - chosen
  await page.getByRole('radio', { name: /^26,/ }).click()
  await page.getByLabel('Exercise', { exact: true }).selectOption('quayside-26')
  const asked = Date.now()
  await page.getByRole('button', { name: 'Measure', exact: true }).click()
  await page.locator('.result .word').waitFor()
  report.readings_and_verdict_after_measure_ms = Date.now() - asked
  await page.locator('.views button').first().waitFor()
  report.model_with_maps_after_measure_ms = Date.now() - asked
  console.log(JSON.stringify(report))
})

/** The first scan stands in the page. */
async function drawn(page: import('@playwright/test').Page): Promise<void> {
  await page.locator('.scan canvas').waitFor()
  await page.getByText('The scan comes …').waitFor({ state: 'detached' })
}

test('frame times', async ({ page, server, measured }) => {
  const id = FOLDER ? await measuredFrom(server.url, FOLDER) : measured
  const report: Record<string, unknown> = {}
  await page.goto(`/attempt/${id}/section`)
  const line = page.locator('.paper path.after')
  await expect(line).toHaveAttribute('d', /M/)
  const { inputs } = (await (await fetch(`${server.url}/api/v1/attempts/${id}/document`)).json()) as { inputs: { after: { n_triangles: number } } }
  report.triangles = inputs.after.n_triangles
  const wish = { point: [0, 0, 2], normal: [1, 0, 0] }
  report.section_server = times(await page.evaluate(asks, { path: `/api/v1/attempts/${id}/section`, wish, key: 'point' }))
  const bar = { point: [0, 9, 4], direction: [0, -1, 0], width_mm: 1.5, toward: 'opposing' }
  report.gauge_server = times(await page.evaluate(asks, { path: `/api/v1/attempts/${id}/gauge`, wish: bar, key: 'point' }))
  report.section_to_line = times(await page.evaluate(pushes))
  report.frame_script = times(await page.evaluate(turns))
  report.renderer = await page.evaluate(() => {
    const gl = document.createElement('canvas').getContext('webgl2')!
    const info = gl.getExtension('WEBGL_debug_renderer_info')
    return info ? (gl.getParameter(info.UNMASKED_RENDERER_WEBGL) as string) : 'unknown'
  })
  console.log(JSON.stringify(report))
})

async function measuredFrom(url: string, folder: string): Promise<string> {
  const post = async (path: string, body: BodyInit, type: string): Promise<{ id: string }> => {
    const answer = await fetch(`${url}/api/v1${path}`, { method: 'POST', headers: { 'content-type': type }, body })
    return (await answer.json()) as { id: string }
  }
  const ids: Record<string, string> = {}
  for (const name of ['after', 'before', 'opposing']) {
    const scan = await post(`/scans?name=${name}.stl`, new Uint8Array(readFileSync(join(folder, `${name}.stl`))), 'application/octet-stream')
    ids[name] = scan.id
  }
  const { id } = await post('/attempts', JSON.stringify({ ...ids, tooth: '26', exercise: 'quayside-26' }), 'application/json')
  await (await fetch(`${url}/api/v1/attempts/${id}/events`)).text()
  return id
}

/** One question after another with a shifted point: the server's answer and the way there, without drawing. */
async function asks({ path, wish, key }: { path: string; wish: Record<string, unknown>; key: string }): Promise<number[]> {
  const spent: number[] = []
  for (let k = 0; k < 80; k++) {
    const [x, y, z] = wish[key] as [number, number, number]
    const body = JSON.stringify({ ...wish, [key]: [x + (k % 40) * 0.1 - 2, y, z] })
    const start = performance.now()
    await (await fetch(path, { method: 'POST', headers: { 'content-type': 'application/json' }, body })).text()
    spent.push(performance.now() - start)
  }
  return spent
}

/** From moving the slider to the new line in the page. */
async function pushes(): Promise<number[]> {
  const input = document.querySelectorAll<HTMLInputElement>('.blade input[type=range]')[1]!
  const line = document.querySelector('.paper path.after')!
  const spent: number[] = []
  for (let k = 0; k < 60; k++) {
    const start = performance.now()
    const changed = new Promise<void>((resolve) => {
      const watch = new MutationObserver(() => {
        watch.disconnect()
        resolve()
      })
      watch.observe(line, { attributeFilter: ['d'] })
    })
    input.value = String(-2 + k * 0.07)
    input.dispatchEvent(new Event('input', { bubbles: true }))
    await changed
    spent.push(performance.now() - start)
  }
  return spent
}

/** What a frame costs the page itself while the model is turned; the graphics unit works beside it. */
async function turns(): Promise<number[]> {
  const spent: number[] = []
  const watch = new PerformanceObserver((list) => {
    for (const entry of list.getEntriesByName('bench-frame')) spent.push(entry.duration)
  })
  watch.observe({ entryTypes: ['measure'] })
  const model = document.querySelector<HTMLElement>('[role=application]')!
  model.focus()
  for (let k = 0; k < 40; k++) {
    model.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowLeft', bubbles: true, cancelable: true }))
    await new Promise((resolve) => requestAnimationFrame(resolve))
  }
  await new Promise((resolve) => setTimeout(resolve, 100))
  return spent
}
