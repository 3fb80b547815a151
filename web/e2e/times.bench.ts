/** Load and frame times in a real browser, printed as one JSON line; `npm run bench`. No limits: what is measured depends on the machine. */

import { cpus } from 'node:os'

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

test('load times, the server knowing nothing of the scans', async ({ page, demo }) => {
  const report: Record<string, unknown> = { machine: `${cpus().length} × ${cpus()[0]?.model ?? 'unknown'}` }

  await page.goto('/')
  const chosen = Date.now()
  await page.getByLabel('Scan files').setInputFiles([demo.after, demo.before, demo.opposing])
  await expect(page.getByLabel('Role of after.stl')).toHaveValue('after')
  report.roles_known_ms = Date.now() - chosen
  await page.getByRole('radio', { name: /^26,/ }).click()
  await page.getByLabel('Exercise').selectOption('quayside-26')
  const asked = Date.now()
  await page.getByRole('button', { name: 'Measure', exact: true }).click()
  await page.locator('.stage .bar').waitFor()
  await page.getByText('The model comes as soon as').waitFor({ state: 'hidden' })
  report.first_picture_ms = Date.now() - asked
  await page.locator('.result .word').waitFor()
  report.verdict_after_measure_ms = Date.now() - asked
  await page.locator('.views button').first().waitFor()
  report.model_after_measure_ms = Date.now() - asked
  console.log(JSON.stringify(report))
})

test('frame times', async ({ page, measured }) => {
  const report: Record<string, unknown> = {}
  await page.goto(`/attempt/${measured}/section`)
  await expect(page.locator('.paper path.after')).toHaveAttribute('d', /M/)
  report.section = times(await page.evaluate(pushes))
  report.frame_script = times(await page.evaluate(turns))
  console.log(JSON.stringify(report))
})

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
