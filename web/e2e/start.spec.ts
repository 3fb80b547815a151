import { copyFileSync, mkdtempSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

import { expect, expectAccessible, expectDrawn, Server, test } from './bench.ts'

test('scans are dropped, measured, and show the values that the core computed', async ({ page, demo }) => {
  await page.goto('/')
  await page.getByLabel('Scan files').setInputFiles([demo.opposing, demo.after, demo.before])
  for (const name of ['after', 'before', 'opposing']) await expect(page.getByLabel(`Role of ${name}.stl`)).toHaveValue(name)
  await page.getByRole('radio', { name: /^26,/ }).click()
  await page.getByLabel('Exercise').selectOption('quayside-26')
  await page.getByLabel('Learner’s code').fill('QS-07')
  await page.getByRole('button', { name: 'Measure', exact: true }).click()
  await expect(page).toHaveURL(/\/attempt\//)
  await expect(page.getByText('Not passed')).toBeVisible({ timeout: 60_000 })
  await expectDrawn(page)
  await page.getByRole('tab', { name: 'Readings' }).click()
  for (const id of ['taper.mesial_deg', 'clearance.mip_mm', 'reduction.volume_mm3']) {
    const { value, unit } = demo.readings[id]!
    const decimals = { deg: 1, mm: 2, mm3: 1 }[unit]!
    const shown = `${(value as number).toFixed(decimals)}${{ deg: '°', mm: ' mm', mm3: ' mm³' }[unit]}`
    await expect(page.locator(`tr[title='${id}'] .number`)).toHaveText(shown)
  }
})

test('a file that is no scan is refused by name, and the others stay', async ({ page, demo }) => {
  await page.goto('/')
  const wrong = { name: 'notes.stl', mimeType: 'text/plain', buffer: Buffer.from('Dear lab, the scan is attached.') }
  const after = { name: 'after.stl', mimeType: 'model/stl', buffer: readFileSync(demo.after) }
  await page.getByLabel('Scan files').setInputFiles([wrong, after])
  const alert = page.getByRole('alert').filter({ hasText: 'notes.stl' })
  await expect(alert).toBeVisible()
  await expect(page.getByLabel('Role of after.stl')).toHaveValue('after')
  await expectAccessible(page)
})

test('a dropped file is taken like a chosen one', async ({ page }) => {
  await page.goto('/')
  const data = await page.evaluateHandle(() => {
    const transfer = new DataTransfer()
    transfer.items.add(new File(['not a scan'], 'letter.ply'))
    return transfer
  })
  await page.dispatchEvent('body', 'drop', { dataTransfer: data })
  await expect(page.getByRole('alert').filter({ hasText: 'letter.ply' })).toBeVisible()
})

/** The triangles of a binary STL within so many millimetres of the tooth's axis. */
function cropped(stl: Buffer, tooth_from_scan: number[][], radius_mm: number): Buffer {
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

test('a tooth without neighbours is not guessed about: one tap says which side is mesial', async ({ page, demo, server }) => {
  await page.goto('/')
  const buffer = cropped(readFileSync(demo.after), demo.frame.tooth_from_after, 8.2)
  await page.getByLabel('Scan files').setInputFiles({ name: 'alone.stl', mimeType: 'model/stl', buffer })
  await expect(page.getByLabel('Role of alone.stl')).toHaveValue('after')
  await page.getByRole('radio', { name: /^26,/ }).click()
  await page.getByRole('button', { name: 'Measure', exact: true }).click()
  await expect(page.getByRole('heading', { name: 'Tap the mesial side of tooth 26' })).toBeVisible({ timeout: 40_000 })
  await expectAccessible(page)
  const first = page.url()
  const box = (await page.locator('.tap canvas').boundingBox())!
  const take = page.getByRole('button', { name: 'This side is mesial: measure' })
  await expect(async () => {
    await page.mouse.click(box.x + box.width * 0.58, box.y + box.height * 0.5)
    await expect(take).toBeEnabled({ timeout: 500 })
  }).toPass()
  await take.click()
  await expect(page).not.toHaveURL(first)
  const id = page.url().split('/').at(-1)!
  const { request } = (await (await fetch(`${server.url}/api/v1/attempts/${id}`)).json()) as { request: { mesial_point: number[] } }
  expect(request.mesial_point).toHaveLength(3)
})

test('a scan that is left in the watched folder appears by itself', async ({ page, demo }) => {
  const folder = mkdtempSync(join(tmpdir(), 'kerf-watch-'))
  const server = new Server(41_872, mkdtempSync(join(tmpdir(), 'kerf-e2e-')), ['--watch', folder])
  await server.start()
  await page.goto(`${server.url}/`)
  await expect(page.getByRole('button', { name: 'Try the demo tooth' })).toBeVisible()
  copyFileSync(demo.after, join(folder, 'scan-0417.stl'))
  await expect(page.getByLabel('Role of scan-0417.stl')).toHaveValue('after')
  await server.stop()
})

test('the demo tooth is one press away, by keyboard alone', async ({ page }) => {
  await page.goto('/')
  await expect(page.getByRole('button', { name: 'Try the demo tooth' })).toBeEnabled()
  await page.keyboard.press('Tab')
  await expect(page.getByRole('link', { name: 'To the content' })).toBeFocused()
  await page.getByRole('button', { name: 'Try the demo tooth' }).focus()
  await page.keyboard.press('Enter')
  await expect(page).toHaveURL(/\/attempt\//)
  await expect(page.getByText('Not passed')).toBeVisible({ timeout: 60_000 })
  const model = page.getByRole('application')
  await model.focus()
  await expectDrawn(page)
  for (const key of ['1', 'ArrowLeft', '+']) await page.keyboard.press(key)
  await expect(page).toHaveURL(/eye=/)
  await page.keyboard.press('Enter')
  await expect(page.locator('.stage [role=status]')).toContainText(/third|known|Nothing/)
})

test('the tooth chart is walked by arrows', async ({ page }) => {
  await page.goto('/')
  await page.getByRole('radio', { name: /^26,/ }).click()
  await page.keyboard.press('ArrowRight')
  await expect(page.getByRole('radio', { name: /^27,/ })).toBeChecked()
  await page.keyboard.press('ArrowDown')
  await expect(page.getByRole('radio', { name: /^37,/ })).toBeChecked()
  await expect(page.getByText('Universal 18')).toBeVisible()
  await expectAccessible(page)
})
