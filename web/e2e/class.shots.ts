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
    const post = async <T>(at: string, body: object): Promise<T> => {
      const answer = await fetch(`${gradings}${at}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) })
      const text = await answer.text()
      return (text ? JSON.parse(text) : null) as T
    }
    const exercise = { exercise: 'cast-crown-molar', stage: 'final', latest_only: true }
    const wanted = { ...exercise, title: 'Spring', criteria: ['walls', 'width'], examiners: ['QS-E7'], n_repeats: 1, least_gap: 2 }
    const { id } = await post<{ id: string }>('', wanted)
    // A calibration that is graded: every code as acceptable.
    const criteria = ['wall-height', 'width']
    const { attempts } = await post<{ attempts: { id: string }[] }>('/proposal', { ...exercise, latest_only: false, criteria, n: 8 })
    const calibration = await post<{ id: string }>('', { ...wanted, title: 'Known readings', criteria, attempts: attempts.slice(0, 8).map((one) => one.id) })
    const own = `/${calibration.id}/sheets/QS-E7`
    const { codes } = (await (await fetch(`${gradings}${own}`)).json()) as { codes: { code: string }[] }
    for (const { code } of codes) await post(`${own}/${code}`, { marks: criteria.map((criterion) => ({ criterion, value: 1 })) })
    const pages = {
      ...PAGES, 'class-sheet': `/class/gradings/${id}/QS-E7`, 'class-sheet-done': `/class/gradings/${calibration.id}/QS-E7`,
      'class-calibration': `/class/gradings?result=${encodeURIComponent(`${calibration.id} QS-E7`)}`, 'class-examiners-measured': '/class/examiners?criterion=wall-height',
    }
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
    // What is proposed stands under the form.
    for (const [size, viewport] of Object.entries(SIZES).filter(() => 'class-proposal'.includes(ONLY))) {
      await page.setViewportSize(viewport)
      await page.goto('/class/gradings')
      for (const name of [/^A calibration/, 'Wall height']) await page.getByRole('checkbox', { name }).check()
      await page.getByRole('button', { name: 'Propose some' }).click()
      await page.getByText(/chosen of/).waitFor()
      await page.screenshot({ path: `shots/class-proposal-${size}-${scheme}.png`, fullPage: true })
      await page.goto('/class')
      await page.getByLabel('File').setInputFiles({ name: 'more.csv', mimeType: 'text/csv', buffer: Buffer.from('learner,cohort,name\nQS-08,spring,N. N.\nQS-01,spring,\n') })
      await page.getByRole('button', { name: 'Show what it brings' }).click()
      await page.getByText('It would bring:').waitFor()
      await page.screenshot({ path: `shots/class-proposal-roster-${size}-${scheme}.png`, fullPage: true })
    }
    for (const one of [id, calibration.id]) await fetch(`${gradings}/${one}`, { method: 'DELETE' })
  })
}
