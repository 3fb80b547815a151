/** Pictures of every page and state with the demo's data, to be looked at; `npm run shots` writes them to `shots/`. */

import { mkdtempSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

import type { Page } from '@playwright/test'

import { cropped, PORT, Server, test, type Demo } from './bench.ts'

const SIZES = { desktop: { width: 1400, height: 900 }, phone: { width: 390, height: 844 }, projector: { width: 1920, height: 1080 } }
type Size = keyof typeof SIZES
const ONLY = process.env.SHOTS ?? ''

/** A page by address, and what is done there before the picture. */
interface Shot {
  name: string
  at: string
  sizes?: Size[]
  first?: (page: Page) => Promise<unknown>
}

function shots(id: string, refused: string, demo: Demo): Shot[] {
  const files = (...names: ('after' | 'before' | 'opposing')[]) => (page: Page) => page.getByLabel('Scan files').setInputFiles(names.map((name) => demo[name]))
  const attempt = `/attempt/${id}`
  return [
    { name: 'start-empty', at: '/' },
    {
      name: 'start-scans',
      at: '/',
      first: async (page) => {
        await files('after', 'before', 'opposing')(page)
        await page.getByText('less tooth').first().waitFor()
        await page.getByRole('radio', { name: /^26,/ }).click()
      },
    },
    {
      name: 'start-wrong-file',
      at: '/',
      first: (page) => page.getByLabel('Scan files').setInputFiles({ name: 'notes.stl', mimeType: 'text/plain', buffer: Buffer.from('Dear lab') }),
    },
    {
      name: 'start-rarely',
      at: '/',
      first: async (page) => {
        await page.getByText('Several teeth, die').click()
        await page.getByLabel('Several prepared teeth').check()
        await page.getByRole('checkbox', { name: /^35,/ }).click()
        await page.getByRole('checkbox', { name: /^37,/ }).click()
      },
    },
    { name: 'model-reduction', at: attempt },
    { name: 'model-clearance', at: `${attempt}?map=clearance&opposing=40` },
    { name: 'model-taper', at: `${attempt}?map=taper&eye=-90,5,12,0,0,2` },
    { name: 'model-undercut', at: `${attempt}?map=undercut` },
    { name: 'model-deviation', at: `${attempt}?map=deviation` },
    { name: 'model-damage', at: `${attempt}?map=damage` },
    { name: 'model-bodies', at: `${attempt}?before=35&target=60` },
    { name: 'model-jaw', at: `${attempt}?jaw=protrusion:0.5&opposing=60` },
    { name: 'model-hover', at: attempt, sizes: ['desktop'], first: hover },
    { name: 'readings', at: `${attempt}?side=readings` },
    { name: 'remarks', at: `${attempt}?side=remarks` },
    { name: 'spanish', at: `${attempt}?advice=es` },
    { name: 'section', at: `${attempt}/section` },
    { name: 'section-caliper', at: `${attempt}/section?cut=0,0,0`, first: (page) => page.getByRole('button', { name: 'Caliper' }).click() },
    { name: 'section-bar', at: `${attempt}/section`, first: (page) => page.getByRole('button', { name: 'Round bar' }).click() },
    { name: 'ring', at: `${attempt}/ring?at=45` },
    { name: 'compare', at: `/compare/${id}/${id}` },
    { name: 'compare-target', at: `/compare/${id}/target` },
    { name: 'kiosk', at: `/kiosk?attempt=${id}`, sizes: ['desktop', 'phone', 'projector'] },
    { name: 'refused', at: `/attempt/${refused}` },
    { name: 'missing-attempt', at: '/attempt/none' },
    { name: 'missing-page', at: '/nowhere' },
  ]
}

async function hover(page: Page): Promise<void> {
  await page.getByRole('button', { name: /Occlusal/ }).click()
  const box = (await page.locator('.stage canvas').boundingBox())!
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2)
  await page.locator('.readout').waitFor()
}

async function picture(page: Page, name: string): Promise<void> {
  await page.waitForLoadState('networkidle').catch(() => undefined)
  // The model is drawn a moment after its data came.
  await page.waitForTimeout(900)
  await page.screenshot({ path: `shots/${name}.png`, fullPage: name.includes('phone') })
}

for (const scheme of ['light', 'dark'] as const) {
  test(`pictures in ${scheme}`, async ({ page, measured, demo, server }) => {
    await page.emulateMedia({ colorScheme: scheme })
    const refused = await refusedAttempt(server.url, demo)
    for (const shot of shots(measured, refused, demo).filter((shot) => shot.name.includes(ONLY))) {
      for (const size of shot.sizes ?? (['desktop', 'phone'] as Size[])) {
        await page.setViewportSize(SIZES[size])
        await page.goto(shot.at)
        await page.waitForLoadState('networkidle').catch(() => undefined)
        await shot.first?.(page)
        await picture(page, `${shot.name}-${size}-${scheme}`)
      }
    }
  })

  test(`the server gone in ${scheme}`, async ({ page }) => {
    test.skip(!'gone kiosk-empty'.includes(ONLY))
    await page.emulateMedia({ colorScheme: scheme })
    const server = new Server(PORT + 3, mkdtempSync(join(tmpdir(), 'kerf-e2e-')))
    await server.start()
    await page.goto(`${server.url}/kiosk`)
    await picture(page, `kiosk-empty-desktop-${scheme}`)
    await page.goto(`${server.url}/`)
    await page.getByText('None yet.').waitFor()
    await server.stop()
    await page.getByRole('button', { name: 'Try the demo tooth' }).click()
    await page.getByText('The server does not answer.').first().waitFor()
    await picture(page, `gone-desktop-${scheme}`)
  })
}

/** A tooth without neighbours, which asks for a tap. */
async function refusedAttempt(url: string, demo: Demo): Promise<string> {
  const body = cropped(readFileSync(demo.after), demo.frame.tooth_from_after, 8.2)
  const scan = (await (await fetch(`${url}/api/v1/scans?name=alone.stl`, { method: 'POST', body: new Uint8Array(body) })).json()) as { id: string }
  const headers = { 'content-type': 'application/json' }
  const made = await fetch(`${url}/api/v1/attempts`, { method: 'POST', headers, body: JSON.stringify({ after: scan.id, tooth: '26' }) })
  const { id } = (await made.json()) as { id: string }
  for (let tries = 0; tries < 300; tries++) {
    const { state } = (await (await fetch(`${url}/api/v1/attempts/${id}`)).json()) as { state: string }
    if (state === 'refused') break
    await new Promise((resolve) => setTimeout(resolve, 100))
  }
  return id
}
