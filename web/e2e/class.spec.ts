import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'

import type { Page } from '@playwright/test'

import { expect, expectAccessible } from './bench.ts'
import { test } from './lab.ts'

async function inBoth(page: Page): Promise<void> {
  await expectAccessible(page)
  await page.emulateMedia({ colorScheme: 'dark' })
  await expectAccessible(page)
  await page.emulateMedia({ colorScheme: 'light' })
}

/** What a link leads to when it is saved. */
async function saved(page: Page, name: string | RegExp): Promise<string> {
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name }).first().click()])
  return readFileSync(await download.path(), 'utf8')
}

test('the roster leads to cohorts and learners', async ({ page }) => {
  await page.goto('/')
  await page.getByRole('link', { name: 'Class', exact: true }).click()
  await expect(page.getByRole('heading', { name: 'Roster' })).toBeVisible()
  await expect(page.getByRole('row', { name: /QS-01 spring 3 2026-11-16/ })).toBeVisible()
  await inBoth(page)
  await page.getByLabel('Find').fill('autumn')
  await expect(page.getByRole('row', { name: /QS-05/ })).toBeVisible()
  await expect(page.getByRole('row', { name: /QS-01/ })).toHaveCount(0)
  await expect(page).toHaveURL(/find=autumn/)
  await page.getByLabel('Find').fill('nobody at all')
  await expect(page.getByText('No learner has these words.')).toBeVisible()
  await page.getByRole('link', { name: 'How it does' }).last().click()
  await expect(page.getByLabel('Cohort')).toHaveValue('spring')
  await page.goBack()
  await expect(page.getByLabel('Find')).toHaveValue('nobody at all')
})

test('attempts are filtered, each choice is a link, and tables are saved', async ({ page, lab }) => {
  await page.goto('/class/attempts')
  await expect(page.getByText('13 attempts', { exact: true })).toBeVisible()
  await page.getByLabel('Learner').selectOption('QS-02')
  await expect(page.getByText('3 attempts', { exact: true })).toBeVisible()
  await page.getByLabel('Session').selectOption('week-1')
  await expect(page.getByText('1 attempt', { exact: true })).toBeVisible()
  await expect(page).toHaveURL(/learner=QS-02&session=week-1/)
  await inBoth(page)
  const grades = await saved(page, 'grades, CSV')
  const to = join(lab.folder, 'grades.csv')
  lab.kerf('export', 'grades', '--learner', 'QS-02', '--session', 'week-1', '--to', to)
  expect(grades).toBe(readFileSync(to, 'utf8'))
  await page.getByLabel('Result').selectOption('refused')
  await expect(page.getByText('None of them has this result.')).toBeVisible()
  await page.goBack()
  await page.goBack()
  await expect(page.getByText('3 attempts', { exact: true })).toBeVisible()
  await page.reload()
  await expect(page.getByLabel('Learner')).toHaveValue('QS-02')
  await page.goto('/class/attempts?learner=QS-99')
  await expect(page.getByText('No attempt fits this choice.')).toBeVisible()
})

test('how the class does: the numbers and plots of the command line', async ({ page, lab }) => {
  await page.goto('/class/report')
  await expect(page.getByRole('heading', { name: 'Complete cast crown, molar, final' })).toBeVisible()
  await expect(page.getByText('13 attempts of 5 learners')).toBeVisible()
  await expect(page.getByRole('img', { name: 'Too little cut, by aspect and third' })).toBeVisible()
  await inBoth(page)
  await page.getByRole('button', { name: /^All \d+ readings/ }).click()
  const json = join(lab.folder, 'report.json')
  lab.kerf('report', '--quiet', '--json', json, '--csv', join(lab.folder, 'report.csv'), '--svg', lab.folder)
  const [report] = JSON.parse(readFileSync(json, 'utf8')) as { criteria: { name: string; dots: unknown[]; distribution: { five: number[] } }[] }[]
  const taper = report!.criteria.find((criterion) => criterion.name === 'taper, distal')!
  const row = page.getByRole('listitem').filter({ hasText: 'Taper, distal' })
  await expect(row.getByText(taper.distribution.five[2]!.toFixed(1), { exact: true })).toBeVisible()
  expect(await row.locator('svg').locator('.dot, .miss, .doubt').count()).toBe(taper.dots.length)
  expect(await saved(page, 'numbers, CSV')).toBe(readFileSync(join(lab.folder, 'report.csv'), 'utf8'))
  expect(await saved(page, 'the whole report, JSON')).toBe(readFileSync(json, 'utf8'))
  const plots = page.getByRole('link', { name: 'plot, SVG' })
  const [download] = await Promise.all([page.waitForEvent('download'), plots.last().click()])
  expect(readFileSync(await download.path(), 'utf8')).toBe(readFileSync(join(lab.folder, 'cast-crown-molar-final-readings.svg'), 'utf8'))
  await page.getByLabel('Cohort').selectOption('autumn')
  await expect(page.getByText('of 3 learners')).toBeVisible()
  // Three learners are too few to judge criteria by.
  await expect(page.getByText(/Not judged: \d learners with complete scores, 5 needed/)).toBeVisible()
  await page.goto('/class/report?cohort=nobody')
  await expect(page.getByRole('heading', { name: 'Nothing to report' })).toBeVisible()
  await expectAccessible(page)
})

test('a learner is followed from attempt to attempt', async ({ page, lab }) => {
  await page.goto('/learner/QS-01')
  await expect(page.getByRole('heading', { name: 'QS-01 over time' })).toBeVisible()
  await expect(page.getByRole('link', { name: /^3\. 2026-11-16/ })).toBeVisible()
  await expect(page.getByRole('heading', { name: 'What to practise next' })).toBeVisible()
  await inBoth(page)
  const csv = join(lab.folder, 'learner.csv')
  lab.kerf('report', '--quiet', '--learner', 'QS-01', '--learner-csv', csv)
  expect(await saved(page, 'numbers, CSV')).toBe(readFileSync(csv, 'utf8'))
  const all = page.getByRole('button', { name: /^All \d+ readings/ })
  await all.press('Enter')
  await expect(page.getByRole('heading', { name: 'Taper, distal, °' })).toBeVisible()
  await page.getByRole('link', { name: /^1\. 2026-11-02/ }).click()
  await expect(page).toHaveURL(/\/attempt\//)
  await page.goBack()
  await expect(page.getByRole('heading', { name: 'QS-01 over time' })).toBeVisible()
  await page.goto('/learner/QS-99')
  await expect(page.getByRole('alert')).toContainText('there is no such learner')
  await expectAccessible(page)
})

test('examiners: every statistic with its interval, or why there is none', async ({ page, lab }) => {
  await page.goto('/class/examiners')
  await expect(page.getByLabel('Criterion')).toHaveValue('finish')
  await expect(page.getByText('8 attempts, 8 of them graded by all of QS-E1, QS-E2, QS-E3.')).toBeVisible()
  const csv = join(lab.folder, 'agreement.csv')
  lab.kerf('agree', '--quiet', '--csv', csv)
  const fleiss = readFileSync(csv, 'utf8').split('\n').find((line) => line.includes("Fleiss' kappa"))!.split(',')
  await expect(page.getByRole('listitem').filter({ hasText: "Fleiss' kappa" }).getByText(Number(fleiss[3]).toFixed(3))).toBeVisible()
  await expect(page.getByRole('heading', { name: 'With the own earlier grade' })).toBeVisible()
  await expect(page.getByRole('link', { name: 'Attempt no. 2' })).toBeVisible()
  expect(await saved(page, 'all criteria, CSV')).toBe(readFileSync(csv, 'utf8'))
  await inBoth(page)
  await page.getByLabel('Criterion').selectOption('Wall height')
  const measured = page.getByRole('region', { name: 'Each against what was measured' })
  const bias = readFileSync(csv, 'utf8').split('\n').find((line) => line.startsWith('wall-height') && line.includes('QS-E2 less what was measured, mean'))!.split(',')
  const row = measured.getByRole('listitem').filter({ hasText: 'QS-E2 less what was measured, mean' })
  await expect(row.getByText(Number(bias.at(-6)).toFixed(3).replace('-', '−'))).toBeVisible()
  await expect(row.locator('svg')).toBeVisible()
  await inBoth(page)
})

test('a blind grading is set up and graded, code by code', async ({ page, lab }) => {
  await page.goto('/class/gradings')
  await expect(page.getByText('No grading is set up yet.')).toBeVisible()
  await page.getByLabel('Title').fill('Calibration')
  await page.getByLabel('Examiners, by code').fill('QS-E7')
  await page.getByLabel('Attempts that come twice').fill('1')
  await page.getByLabel('Others at least between them').fill('2')
  const button = page.getByRole('button', { name: 'Set it up' })
  await button.click()
  await expect(page.getByRole('alert')).toContainText('choose at least one criterion')
  await page.getByRole('checkbox', { name: 'Taper of each wall' }).check()
  await page.getByRole('checkbox', { name: 'Wall height' }).check()
  await inBoth(page)
  await button.click()
  await expect(page.getByRole('heading', { name: 'Calibration' })).toBeVisible()
  await page.getByRole('link', { name: 'Begin as QS-E7' }).click()

  const heading = page.getByRole('heading', { level: 1 })
  await expect(heading).toHaveText(/^G\d{3}$/)
  const first = await heading.textContent()
  await expect(page.getByRole('button', { name: 'Keep and go on' })).toBeDisabled()
  await inBoth(page)
  // What is put off comes again.
  await page.getByRole('button', { name: 'Later' }).click()
  await expect(heading).not.toHaveText(first!)
  await page.goBack()
  await expect(heading).toHaveText(first!)
  // Five learners, one of them twice.
  for (let given = 0; given < 6; given++) {
    await expect(page.getByText(`${given} of 6 graded`)).toBeVisible()
    for (const criterion of ['Taper of each wall', 'Wall height']) {
      // Arrow keys choose among the levels.
      await page.getByRole('group', { name: criterion }).getByRole('radio', { name: 'not acceptable' }).press('ArrowDown')
    }
    await page.getByRole('button', { name: 'Keep and go on' }).click()
  }
  await expect(page.getByRole('heading', { name: 'All graded' })).toBeVisible()
  await expect(page.locator('body')).not.toContainText('QS-0')
  await inBoth(page)
  await page.getByRole('link', { name: 'How far examiners agree' }).click()
  await page.getByLabel('Criterion').selectOption('Walls')
  await expect(page.getByText('5 attempts, 5 of them graded by all of QS-E7.')).toBeVisible()
  expect(lab.kerf('agree', '--criterion', 'walls')).toContain('QS-E7')

  await page.goto('/class/gradings')
  await expect(page.getByText('all 6 graded')).toBeVisible()
  await page.getByRole('button', { name: 'Remove Calibration …' }).click()
  await page.getByRole('button', { name: 'Remove Calibration', exact: true }).click()
  await expect(page.getByText('No grading is set up yet.')).toBeVisible()
})

test('an instructor decides; the computed grade stays beside it', async ({ page }) => {
  await page.goto('/class/attempts?learner=QS-03')
  await page.getByRole('link', { name: /^No\. / }).first().click()
  const reasons = page.getByText('“Cut without water.”')
  const open = page.getByRole('button', { name: 'Decide otherwise …' })
  await expect(open).toBeVisible({ timeout: 60_000 })
  const before = await reasons.count()
  // The same again changes nothing but is kept too.
  for (const more of [1, 2]) {
    await open.click()
    await page.getByLabel('What changes').selectOption('the outcome of the whole')
    await page.getByLabel('It counts as').selectOption('not passed')
    await page.getByLabel('Your code, never a name').fill('QS-I1')
    await page.getByLabel('Reason; the learner reads it').fill('Cut without water.')
    await expectAccessible(page)
    await page.getByRole('button', { name: 'Decide', exact: true }).click()
    await expect(reasons).toHaveCount(before + more)
  }
  await expect(page.getByText(/^Computed: .*It stays beside what counts\.$/)).toBeVisible()
  await page.reload()
  await expect(reasons).toHaveCount(before + 2, { timeout: 60_000 })
  await page.goto('/class/attempts?learner=QS-03&result=not_passed')
  await expect(page.getByText('decided by an instructor')).toBeVisible()
})

test('a learner is deleted for good, after the code was typed', async ({ page, lab }, { repeatEachIndex }) => {
  const code = `QS-9${repeatEachIndex}`
  writeFileSync(join(lab.folder, 'one.csv'), `learner\n${code}\n`)
  lab.kerf('import', join(lab.folder, 'one.csv'))
  await page.goto(`/learner/${code}`)
  await expect(page.getByRole('heading', { name: 'Nothing to follow yet' })).toBeVisible()
  await page.getByRole('button', { name: `Delete ${code} …` }).click()
  const button = page.getByRole('button', { name: 'Delete for good' })
  await expect(button).toBeDisabled()
  await expectAccessible(page)
  await page.getByLabel(`Type ${code} to go on`).fill('QS-04')
  await expect(button).toBeDisabled()
  await page.getByLabel(`Type ${code} to go on`).fill(code)
  await button.click()
  await expect(page.getByText(/^Gone for good: 1 learners, 0 attempts/)).toBeVisible()
  await expect(page).toHaveURL(/\/class$/)
  await expect(page.getByRole('row', { name: /QS-01/ })).toBeVisible()
  await expect(page.getByRole('row', { name: code })).toHaveCount(0)
})

test('the pages of the class fit a phone and say when the server is gone', async ({ page, lab }) => {
  await page.setViewportSize({ width: 360, height: 740 })
  for (const path of ['/class', '/class/attempts', '/class/report', '/class/examiners', '/class/gradings', '/learner/QS-01']) {
    await page.goto(path)
    await expect(page.getByRole('heading', { level: 1 })).toBeVisible()
    await expect(page.getByText(/^(Looking|Counting) …$/)).toHaveCount(0)
    expect(await page.evaluate(() => document.documentElement.scrollWidth), path).toBe(360)
  }
  await lab.server.stop()
  await page.getByRole('link', { name: 'Roster' }).click()
  await expect(page.getByText('The server does not answer.')).toBeVisible()
  await expectAccessible(page)
  await lab.server.start()
  await expect(page.getByRole('row', { name: /QS-01/ })).toBeVisible()
})
