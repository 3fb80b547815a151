import { mkdtempSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

import { expect, expectAccessible, expectDrawn, middleOf, PORT, Server, test } from './bench.ts'

test('maps change, the address says so, and the back button comes back', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}`)
  await expectDrawn(page)
  await page.getByRole('button', { name: 'Taper of the walls' }).click()
  await expect(page).toHaveURL(/map=taper/)
  await expect(page.getByRole('img', { name: /^Taper of the walls: 6 steps/ })).toBeVisible()
  // What the exercise asks shows by itself, and another limit can be chosen.
  await expect(page.locator('.limits')).toContainText(/ideal .*°.*acceptable .*°/s)
  await page.getByLabel('Limit lines').selectOption({ index: 2 })
  await expect(page).toHaveURL(/limit=taper/)
  await page.getByLabel('Limit lines').selectOption('None')
  await expect(page.locator('.limits')).not.toContainText('ideal')
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
  // Enter lays the point on a line again; the link brings the tool back where it lay.
  await page.keyboard.press('Enter')
  await expect.poll(() => offLine(page, 0)).toBeLessThan(0.002)
  const again = await page.locator('.said').textContent()
  await page.reload()
  await expect(page.locator('.said')).toHaveText(again!)
  await expect(page.getByLabel('Walls in this section')).toContainText(/Taper .*°.*asked .*°/)
  await page.getByRole('button', { name: 'Round bar' }).click()
  await expect(page.locator('.said')).toContainText(/Fits|Stops after|Does not enter/)
  await page.getByRole('slider', { name: /Start of the bar/ }).focus()
  const start = await page.url()
  await page.keyboard.press('Shift+ArrowRight')
  await expect(page).not.toHaveURL(start)
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

/** How far a tool's point lies off the drawn lines, mm. */
function offLine(page: import('@playwright/test').Page, k: number): Promise<number> {
  return page.evaluate((k) => {
    const handle = document.querySelectorAll('.paper circle.handle')[k]!
    const at = { x: Number(handle.getAttribute('cx')), y: Number(handle.getAttribute('cy')) }
    let least = Infinity
    for (const path of document.querySelectorAll<SVGPathElement>('.paper path.line')) {
      for (const chain of path.getAttribute('d')!.split('M').filter(Boolean)) {
        const points = chain.split('L').map((pair) => pair.trim().split(/\s+/).map(Number) as [number, number])
        points.slice(1).forEach((to, n) => {
          const from = points[n]!
          const [x, y] = [to[0] - from[0], to[1] - from[1]]
          const t = Math.min(1, Math.max(0, ((at.x - from[0]) * x + (at.y - from[1]) * y) / (x * x + y * y || 1)))
          least = Math.min(least, Math.hypot(from[0] + t * x - at.x, from[1] + t * y - at.y))
        })
      }
    }
    return least
  }, k)
}

/** Three points of the drawn line, in pixels of the page. */
function onTheLine(page: import('@playwright/test').Page): Promise<{ x: number; y: number }[]> {
  return page.evaluate(() => {
    const svg = document.querySelector<SVGSVGElement>('.paper svg')!
    const path = document.querySelector<SVGPathElement>('.paper path.after')!
    const length = path.getTotalLength()
    const box = svg.getBoundingClientRect()
    const on = Array.from({ length: 60 }, (_, n) => path.getPointAtLength((length * n) / 60).matrixTransform(svg.getScreenCTM()!))
    const inside = on.filter(({ x, y }) => x > box.left + 60 && x < box.right - 60 && y > box.top + 60 && y < box.bottom - 60)
    return [0.2, 0.5, 0.8].map((share) => inside[Math.floor(share * inside.length)]!).map(({ x, y }) => ({ x, y }))
  })
}

for (const kind of ['mouse', 'touch'] as const) {
  test.describe(`by ${kind}`, () => {
    test.use({ hasTouch: kind === 'touch' })

    test('caliper and angle snap to the lines where they are tapped and dragged', async ({ page, measured }) => {
      await page.goto(`/attempt/${measured}/section`)
      const line = page.locator('.paper path.after')
      await expect(line).toHaveAttribute('d', /M/)
      // What comes later moves the drawing.
      await expect(page.getByLabel('Walls in this section')).toContainText('asked')
      await expectDrawn(page, 0.01)
      const tap = (x: number, y: number) => (kind === 'touch' ? page.touchscreen.tap(x, y) : page.mouse.click(x, y))
      for (const [tool, n] of [['Caliper', 2], ['Angle', 3]] as const) {
        await page.getByRole('button', { name: tool }).click()
        for (let k = 0; k < n; k++) {
          // What the tool says may move the drawing: tap where the line is now.
          const { x, y } = (await onTheLine(page))[k]!
          await tap(x + 4, y + 3)
          await expect(page.locator('.paper circle.handle')).toHaveCount(k + 1)
        }
        await expect(page.locator('.paper circle.handle')).toHaveCount(n)
        for (let k = 0; k < n; k++) await expect.poll(() => offLine(page, k)).toBeLessThan(0.002)
        await expect(page.locator('.said')).toContainText(tool === 'Caliper' ? /mm between/ : /° at the middle/)
        await expect(page).toHaveURL(/points=/)
      }
    })
  })
}

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
  await expect(page.getByRole('rowheader', { name: 'Least, in maximal intercuspal position' })).toBeVisible()
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
  await page.getByRole('button', { name: 'Reword remark 1' }).click()
  await page.getByRole('textbox', { name: 'Remark 1' }).fill('Round this line angle off.')
  await page.getByRole('button', { name: 'Keep it' }).click()
  await expect(page.getByText('Remark reworded.')).toBeVisible()
  await page.keyboard.press('Control+z')
  await expect(page.getByText('Round this edge off.')).toBeVisible()
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

/** The same scans held against another exercise, measured. */
async function measuredFor(url: string, id: string, exercise: string, changes: Record<string, unknown> = {}): Promise<string> {
  const { request } = (await (await fetch(`${url}/api/v1/attempts/${id}`)).json()) as { request: Record<string, unknown> }
  const headers = { 'content-type': 'application/json' }
  const body = JSON.stringify({ ...request, exercise, stage: undefined, ...changes })
  const made = (await (await fetch(`${url}/api/v1/attempts`, { method: 'POST', headers, body })).json()) as { id: string }
  await (await fetch(`${url}/api/v1/attempts/${made.id}/events`)).text()
  return made.id
}

test('an attempt stands beside its target', async ({ page, measured: id }) => {
  await page.goto(`/attempt/${id}`)
  await expectDrawn(page)
  await page.getByLabel('Compare side by side').selectOption('its target')
  await expect(page).toHaveURL(new RegExp(`/compare/${id}/target`))
  await expect(page.getByRole('heading', { name: 'Target' })).toBeVisible()
  await expect(page.getByLabel('Against the target')).toContainText(/Occlusal surface.*mm/)
  await expect(page.getByLabel('Against the target')).toContainText('Quayside Skills Lab: metal-ceramic crown on 26')
  await page.getByRole('button', { name: /Facial/ }).first().click()
  const facial = await middleOf(page, 1)
  await page.getByRole('button', { name: /Mesial/ }).first().click()
  await expect.poll(async () => difference(facial, await middleOf(page, 1))).toBeGreaterThan(4)
  await expectAccessible(page)
  await page.goBack()
  await expect(page).toHaveURL(new RegExp(`/attempt/${id}`))
})

test('a target that cannot be laid in is refused with the reason', async ({ page, measured, server }) => {
  const id = await measuredFor(server.url, measured, 'quayside-26', { before: undefined, opposing: undefined, opposing_frame: undefined })
  await page.goto(`/attempt/${id}`)
  await expect(page.getByText(/No target: .*needs the scan before cutting/)).toBeVisible()
  await page.goto(`/compare/${id}/target`)
  await expect(page.getByText(/needs the scan before cutting/).first()).toBeVisible()
  await expectAccessible(page)
})

test('an onlay has its own target', async ({ page, measured, server }) => {
  const id = await measuredFor(server.url, measured, 'onlay-cast')
  await page.goto(`/compare/${id}/target`)
  await expect(page.getByRole('heading', { name: 'Target' })).toBeVisible()
  await expect(page.getByLabel('Against the target')).toContainText('the onlay\'s inner edges are drawn sharp')
  await expectAccessible(page)
})

test('advice is read in Spanish, and stays so', async ({ page, measured }) => {
  await page.goto(`/attempt/${measured}`)
  const first = page.locator('.advice li').first()
  const english = await first.textContent()
  await page.getByRole('button', { name: 'Español' }).click()
  await expect(page.locator('.advice')).toHaveAttribute('lang', 'es')
  await expect(first).not.toHaveText(english!)
  await page.goto(`/attempt/${measured}`)
  await expect(page.locator('.advice')).toHaveAttribute('lang', 'es')
  await page.getByRole('button', { name: 'English' }).click()
  await expect(first).toHaveText(english!)
})

test('what was lost beside the preparation stands on the model with its numbers', async ({ page, measured, server }) => {
  const { readings } = (await (await fetch(`${server.url}/api/v1/attempts/${measured}/document`)).json()) as { readings: Record<string, { value: number; u95: number }> }
  await page.goto(`/attempt/${measured}?map=damage`)
  await expectDrawn(page, 0.0005)
  const { value, u95 } = readings['neighbour.mesial.depth_mm'] ?? readings['neighbour.distal.depth_mm']!
  await expect(page.getByLabel('Adjacent teeth')).toContainText(`${value.toFixed(2)} mm ± ${u95.toFixed(2)} mm`)
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
  const server = new Server(PORT + 1, mkdtempSync(join(tmpdir(), 'kerf-e2e-')))
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
