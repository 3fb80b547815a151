/** Pictures of the pages of the class, with a made-up class; `npm run shots` writes them to `shots/`. */

import { test } from './lab.ts'

const SIZES = { desktop: { width: 1400, height: 900 }, phone: { width: 390, height: 844 } }
const ONLY = process.env.SHOTS ?? ''
const PAGES = {
  'class-roster': '/class',
  'class-attempts': '/class/attempts',
  'class-report': '/class/report',
  'class-report-few': '/class/report?cohort=spring',
  'class-report-none': '/class/report?cohort=nobody',
  'class-examiners': '/class/examiners',
  'class-gradings': '/class/gradings',
  'class-learner': '/learner/QS-01',
  'class-learner-few': '/learner/QS-05',
  'class-learner-none': '/learner/QS-99',
}

for (const scheme of ['light', 'dark'] as const) {
  test(`the class in ${scheme}`, async ({ page, lab }) => {
    await page.emulateMedia({ colorScheme: scheme })
    const gradings = `${lab.server.url}/api/v1/gradings`
    const wanted = { title: 'Calibration', exercise: 'cast-crown-molar', stage: 'final', latest_only: true, criteria: ['walls', 'width'], examiners: ['QS-E7'], n_repeats: 1, least_gap: 2 }
    const made = await fetch(gradings, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(wanted) })
    const { id } = (await made.json()) as { id: string }
    const pages = { ...PAGES, 'class-sheet': `/class/gradings/${id}/QS-E7` }
    for (const [name, at] of Object.entries(pages).filter(([name]) => name.includes(ONLY))) {
      for (const [size, viewport] of Object.entries(SIZES)) {
        await page.setViewportSize(viewport)
        await page.goto(at)
        await page.waitForLoadState('networkidle').catch(() => undefined)
        // The model is drawn a moment after its data came.
        await page.waitForTimeout(900)
        await page.screenshot({ path: `shots/${name}-${size}-${scheme}.png`, fullPage: true })
      }
    }
    await fetch(`${gradings}/${id}`, { method: 'DELETE' })
  })
}
