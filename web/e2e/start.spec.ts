import { copyFileSync, mkdtempSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

import { cropped, expect, expectAccessible, expectDrawn, PORT, Server, test } from './bench.ts'

test('scans are dropped, measured, and show the values that the core computed', async ({ page, demo }) => {
  await page.goto('/')
  await page.getByLabel('Scan files').setInputFiles([demo.opposing, demo.after, demo.before])
  for (const name of ['after', 'before', 'opposing']) await expect(page.getByLabel(`Role of ${name}.stl`)).toHaveValue(name)
  await page.getByRole('radio', { name: /^26,/ }).click()
  await page.getByLabel('Exercise', { exact: true }).selectOption('quayside-26')
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
  const server = new Server(PORT + 2, mkdtempSync(join(tmpdir(), 'kerf-e2e-')), ['--watch', folder])
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

test('roles, teeth and scans come back when an edit is undone', async ({ page, demo }) => {
  await page.goto('/')
  await page.getByLabel('Scan files').setInputFiles([demo.after, demo.before])
  const role = page.getByLabel('Role of after.stl')
  await expect(role).toHaveValue('after')
  await role.selectOption('before')
  await expect(page.getByLabel('Role of before.stl')).toHaveValue('')
  await page.getByRole('status').getByRole('button', { name: 'Undo' }).last().click()
  await expect(role).toHaveValue('after')
  await expect(page.getByLabel('Role of before.stl')).toHaveValue('before')
  await page.getByRole('radio', { name: /^26,/ }).click()
  await page.getByRole('radio', { name: /^25,/ }).click()
  await page.keyboard.press('Control+z')
  await expect(page.getByRole('radio', { name: /^26,/ })).toBeChecked()
  await page.getByRole('button', { name: 'Take before.stl away' }).click()
  await expect(page.getByLabel('Role of before.stl')).toBeHidden()
  await page.keyboard.press('Control+z')
  await expect(page.getByLabel('Role of before.stl')).toHaveValue('before')
})

test('several teeth are chosen, and an exercise of one’s own is taken in or refused by line', async ({ page }) => {
  await page.goto('/')
  await expect(page.getByRole('radio')).toHaveCount(28)
  await page.getByText('Several teeth, die').click()
  await page.getByLabel('Several prepared teeth').check()
  await page.getByRole('checkbox', { name: /^35,/ }).click()
  await page.getByRole('checkbox', { name: /^37,/ }).click()
  await expect(page.getByText('35 · 37')).toBeVisible()
  const own = (text: string) => ({ name: 'mine.toml', mimeType: 'application/toml', buffer: Buffer.from(text) })
  await page.getByLabel('Exercise file').setInputFiles(own('nonsense = 1\n'))
  await expect(page.getByRole('alert')).toContainText('mine.toml:1')
  await page.getByLabel('Exercise file').setInputFiles(own('schema = "kerfwright-exercise-1"\nbase = "quayside-26"\nname = "mine"\ntitle = "Morning group"\n'))
  await expect(page.getByRole('alert')).toBeHidden()
  await expect(page.getByLabel('Exercise', { exact: true })).toContainText('Morning group (own)')
  await expectAccessible(page)
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
