import { mkdtempSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

import { expect, expectAccessible, expectDrawn, middleOf, Server, test } from './bench.ts'

test('maps change, the address says so, and the back button comes back', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}`)
  await expectDrawn(page)
  await page.getByRole('button', { name: 'Taper of the walls' }).click()
  await expect(page).toHaveURL(/map=taper/)
  await expect(page.getByRole('img', { name: /^Taper of the walls: 6 steps/ })).toBeVisible()
  await page.getByLabel('Limit lines').selectOption({ index: 1 })
  await expect(page).toHaveURL(/limit=taper/)
  await expect(page.locator('.limits')).toContainText(/ideal .*°, acceptable .*°/)
  await page.goBack()
  await expect(page.getByRole('button', { name: 'Reduction', exact: true })).toHaveAttribute('aria-pressed', 'true')
  await page.reload()
  await expectDrawn(page)
  await expectAccessible(page)
})

test('hovering reads the value that the core gives for the spot', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}`)
  await expectDrawn(page)
  await page.getByRole('button', { name: /Occlusal/ }).click()
  const box = (await page.locator('.stage canvas').boundingBox())!
  const answered = page.waitForResponse(/\/value\?/)
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2)
  const { values } = (await (await answered).json()) as { values: { map: string; value: number; u95: number }[] }
  const reduction = values.find((value) => value.map === 'reduction')!
  await expect(page.locator('.readout .big')).toHaveText(`${reduction.value.toFixed(2)} mm ± ${reduction.u95.toFixed(2)} mm`)
})

test('the section follows its handle and the sliders, and the tools read it', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}/section`)
  await expectDrawn(page)
  const line = page.locator('.paper path.after')
  await expect(line).toHaveAttribute('d', /M/)
  const first = await line.getAttribute('d')
  await page.getByRole('slider', { name: 'Push' }).fill('1.5')
  await expect(line).not.toHaveAttribute('d', first!)
  await expect(page).toHaveURL(/cut=90,0,1.5/)
  const before = await line.getAttribute('d')
  await page.getByRole('slider', { name: 'Turn' }).focus()
  await page.keyboard.press('ArrowRight')
  await expect(line).not.toHaveAttribute('d', before!)
  await page.getByRole('button', { name: 'Caliper' }).click()
  await expect(page.locator('.said')).toContainText(/\d\.\d\d mm between the points/)
  const handle = page.getByRole('slider', { name: /Caliper point 1/ })
  const told = await page.locator('.said').textContent()
  await handle.focus()
  await page.keyboard.press('Shift+ArrowUp')
  await expect(page.locator('.said')).not.toHaveText(told!)
  await page.getByRole('button', { name: 'Round bar' }).click()
  await expect(page.locator('.said')).toContainText(/Fits|Stops after|Does not enter/)
  await expectAccessible(page)
})

test('the cutting plane is dragged in the scene', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}/section?eye=-45.00,25.00,24.00,0.00,0.00,2.00`)
  await expectDrawn(page)
  const line = page.locator('.paper path.after')
  await expect(line).toHaveAttribute('d', /M/)
  const first = await line.getAttribute('d')
  const box = (await page.locator('.stage canvas').boundingBox())!
  // Where the pointer becomes a hand there is a handle.
  const hand = await findHand(page, box)
  await page.mouse.move(hand.x, hand.y)
  await page.mouse.down()
  await page.mouse.move(hand.x + 30, hand.y + 12, { steps: 6 })
  await page.mouse.up()
  await expect(line).not.toHaveAttribute('d', first!)
  await expect(page).toHaveURL(/cut=/)
})

async function findHand(page: import('@playwright/test').Page, box: { x: number; y: number; width: number; height: number }) {
  for (let y = 0.06; y < 1; y += 0.05) {
    for (let x = 0.06; x < 1; x += 0.05) {
      const at = { x: box.x + x * box.width, y: box.y + y * box.height }
      await page.mouse.move(at.x, at.y)
      if ((await page.locator('.stage canvas').evaluate((canvas) => (canvas as HTMLElement).style.cursor)) === 'grab') return at
    }
  }
  throw new Error('no handle of the plane was found')
}

test('the finish line is walked by keys and the model follows', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}/ring`)
  const slider = page.getByRole('slider', { name: /Spot on the finish line/ })
  await slider.focus()
  await page.keyboard.press('PageDown')
  await page.keyboard.press('ArrowRight')
  await expect(page).toHaveURL(/at=4\d/)
  await expect(page).toHaveURL(/eye=/)
  await expect(page.locator('.ring .told')).toContainText(/Width \d\.\d\d mm\s*± \d\.\d\d mm/)
  await expectAccessible(page)
})

test('show me moves the camera; criteria and readings say why', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}`)
  await expectDrawn(page)
  await page.getByRole('button', { name: /^Show me/ }).first().click()
  await expect(page).toHaveURL(/eye=/)
  await page.getByRole('tab', { name: 'Readings' }).click()
  await page.getByLabel('Search the readings').fill('no such words')
  await expect(page.getByText('No reading has these words.')).toBeVisible()
  await page.getByLabel('Search the readings').fill('clearance')
  await expect(page.getByRole('rowheader', { name: 'Jaws closed (MIP)' })).toBeVisible()
  await expectAccessible(page)
})

test('a remark is pinned, settled, removed and brought back', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}?side=remarks`)
  await expectDrawn(page)
  await page.getByRole('button', { name: 'Pin a remark' }).click()
  await page.getByRole('application').focus()
  await page.keyboard.press('1')
  await page.keyboard.press('Enter')
  await page.getByLabel('Remark', { exact: true }).fill('Round this edge off.')
  await page.getByLabel('Your code').fill('I-3')
  await page.getByRole('button', { name: 'Pin it' }).click()
  await expect(page.getByRole('button', { name: 'Remark 1: Round this edge off.' })).toBeVisible()
  await page.getByRole('button', { name: 'Settle remark 1' }).click()
  await expect(page.getByText(/I-3.*settled/)).toBeVisible()
  await page.getByRole('button', { name: 'Remove remark 1' }).click()
  await expect(page.getByText('No remark yet.')).toBeVisible()
  await page.getByRole('status').getByRole('button', { name: 'Undo' }).last().click()
  await expect(page.getByText('Round this edge off.')).toBeVisible()
  await page.reload()
  await expect(page.getByText('Round this edge off.')).toBeVisible()
  await expectAccessible(page)
})

test('two attempts stand side by side with linked cameras', async ({ page, measured }) => {
  await page.goto(`/compare/${measured}/${measured}`)
  await expectDrawn(page)
  await page.getByRole('button', { name: /Facial/ }).first().click()
  const apart = async (): Promise<number> => difference(await middleOf(page, 0), await middleOf(page, 1))
  await expect.poll(apart).toBeLessThan(4)
  const facial = await middleOf(page, 1)
  await page.getByRole('button', { name: /Mesial/ }).first().click()
  await expect.poll(async () => difference(facial, await middleOf(page, 1))).toBeGreaterThan(8)
  await expect.poll(apart).toBeLessThan(4)
  await expectAccessible(page)
})

/** Mean difference of two pictures, 0 to 255. */
function difference(a: number[], b: number[]): number {
  return a.reduce((sum, value, k) => sum + Math.abs(value - (b[k] ?? 0)), 0) / a.length
}

test('the projector shows the newest attempt', async ({ page, measured }) => {
  await page.goto(`/kiosk?attempt=${measured}`)
  await expect(page.getByText(/not passed: \d+ %/i)).toBeVisible()
  await expectDrawn(page)
  await expectAccessible(page)
})

test.describe('on a phone', () => {
  test.use({ viewport: { width: 390, height: 844 }, hasTouch: true })

  test('everything fits the width and is reached', async ({ page, measured }) => {
    for (const bench of ['', '/section', '/ring']) {
      await page.goto(`/attempt/${measured}${bench}`)
      await expect(page.getByText('Not passed')).toBeVisible()
      const wide = await page.evaluate(() => document.documentElement.scrollWidth)
      expect(wide).toBeLessThanOrEqual(390)
      await expectAccessible(page)
    }
  })
})

for (const scheme of ['light', 'dark'] as const) {
  test(`nothing is hard to read in ${scheme}`, async ({ page, measured }) => {
    await page.emulateMedia({ colorScheme: scheme })
    for (const path of ['/', '/nowhere', '/kiosk', `/attempt/${measured}`, `/attempt/${measured}/section`, `/attempt/${measured}?side=remarks`, '/attempt/none']) {
      await page.goto(path)
      await page.waitForLoadState('networkidle').catch(() => undefined)
      await expectAccessible(page)
    }
  })
}

test('the server goes and comes back', async ({ page }) => {
  const server = new Server(41_871, mkdtempSync(join(tmpdir(), 'kerf-e2e-')))
  await server.start()
  await page.goto(`${server.url}/`)
  await expect(page.getByText('None yet.')).toBeVisible()
  await server.stop()
  await page.getByRole('button', { name: 'Try the demo tooth' }).click()
  await expect(page.getByText('The server does not answer.')).toBeVisible()
  await expectAccessible(page)
  await server.start()
  await expect(page.getByText('The server does not answer.')).toBeHidden()
  await server.stop()
})
