import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

import type { Browser, Page } from '@playwright/test'

import { expect, expectAccessible, findKerf, test as base } from './bench.ts'
import { addAccount, NetworkServer, PASSWORD } from './network.ts'

/** One server with one account of each role and a second learner, encrypted, for all tests of this file. */
const test = base.extend<object, { network: NetworkServer }>({
  network: [
    async ({}, use) => {
      const data = mkdtempSync(join(tmpdir(), 'kerf-e2e-'))
      const accounts = { 'QS-D1': 'director', 'QS-I1': 'instructor', 'QS-07': 'learner', 'QS-08': 'learner' }
      for (const [code, role] of Object.entries(accounts)) addAccount(data, code, role)
      const network = new NetworkServer(41_875, data)
      await network.start()
      await use(network)
      await network.stop()
      rmSync(data, { recursive: true, force: true })
    },
    { scope: 'worker', timeout: 60_000 },
  ],
})

async function open(browser: Browser, network: NetworkServer, path = '/', more: object = {}): Promise<Page> {
  const context = await browser.newContext({ ignoreHTTPSErrors: true, baseURL: network.url, viewport: { width: 1200, height: 850 }, ...more })
  const page = await context.newPage()
  await page.goto(path)
  return page
}

async function signIn(page: Page, code: string): Promise<void> {
  await page.getByLabel('Your code').fill(code)
  await page.getByLabel('Password', { exact: true }).fill(PASSWORD)
  await page.getByRole('button', { name: 'Sign in' }).click()
  await expect(page.getByRole('button', { name: 'Sign out' })).toBeVisible()
}

test('on a network the command line asks for an account, then for encryption', async () => {
  const data = mkdtempSync(join(tmpdir(), 'kerf-e2e-'))
  const refusal = (...more: string[]): string => {
    const { status, stderr } = spawnSync(findKerf(), ['serve', '--listen', '0.0.0.0', '--no-open', '--data', data, ...more], { encoding: 'utf8' })
    expect(status).toBe(2)
    expect(stderr.trim()).not.toContain('\n')
    return stderr
  }
  expect(refusal('--self-made-certificate')).toContain('kerf account add')
  addAccount(data, 'QS-D1', 'director')
  expect(refusal()).toContain('--self-made-certificate')
  expect(refusal('--self-made-certificate')).toContain('--name')
  const list = execFileSync(findKerf(), ['account', 'list', '--data', data], { encoding: 'utf8' })
  expect(list).toMatch(/QS-D1 +director +everybody/)
  const short = spawnSync(findKerf(), ['account', 'add', 'QS-2', '--role', 'learner', '--data', data], { input: 'short\n', encoding: 'utf8' })
  expect(short.status).toBe(2)
  expect(short.stderr).toContain('12 to 256 characters')
  rmSync(data, { recursive: true, force: true })
})

test('a stranger is shown the door and nothing else', async ({ browser, network }) => {
  expect(network.said).toMatch(/SHA-256 ([0-9A-F]{2}:){31}[0-9A-F]{2}/)
  expect(await network.status('GET', '/api/v1/attempts')).toBe(401)
  expect(await network.status('GET', '/', { host: 'lab.example.test' })).toBe(403)
  const page = await open(browser, network, '/attempt/any')
  await expect(page.getByRole('heading', { name: 'Sign in' })).toBeVisible()
  await expect(page.getByLabel('Your code')).toBeFocused()
  await expect(page.getByRole('link', { name: 'Projector' })).toHaveCount(0)
  await expectAccessible(page)
  await page.emulateMedia({ colorScheme: 'dark' })
  await expectAccessible(page)
  await page.context().close()
})

test('signing in by keyboard: a wrong password says what to do next, the right one leads to the page asked for', async ({ browser, network }) => {
  const page = await open(browser, network, '/kiosk')
  await expect(page.getByLabel('Your code')).toBeFocused()
  await page.keyboard.type('QS-I1')
  await page.keyboard.press('Tab')
  await page.keyboard.type('no such password')
  await page.keyboard.press('Enter')
  await expect(page.getByRole('alert')).toContainText('Code or password is wrong; type both again')
  await expect(page.getByLabel('Password', { exact: true })).toBeFocused()
  await expectAccessible(page)
  await page.keyboard.press('Enter')
  await expect(page.getByRole('alert')).toContainText('The password is missing')
  await page.keyboard.type(PASSWORD)
  await page.keyboard.press('Enter')
  await expect(page.getByRole('heading', { name: 'Sign in' })).toHaveCount(0)
  await expect(page).toHaveURL(/\/kiosk$/)
  const [cookie] = await page.context().cookies()
  expect(cookie).toMatchObject({ name: '__Host-kerfwright', httpOnly: true, secure: true, sameSite: 'Strict', path: '/' })
  expect(await page.evaluate(() => document.cookie)).toBe('')
  await page.context().close()
})

test('a learner is shown what a learner may do, and signs out for good', async ({ browser, network }) => {
  const page = await open(browser, network)
  await signIn(page, 'QS-07')
  await expect(page.getByRole('link', { name: 'QS-07' })).toBeVisible()
  await expect(page.getByRole('heading', { name: 'Your attempts' })).toBeVisible()
  for (const name of ['Projector', 'Accounts', 'Class']) await expect(page.getByRole('link', { name })).toHaveCount(0)
  await expect(page.getByRole('button', { name: 'Try the demo tooth' })).toHaveCount(0)
  await expect(page.getByLabel('Learner’s code')).toHaveCount(0)
  await expectAccessible(page)
  await page.goto('/accounts')
  await expect(page.getByRole('heading', { name: 'There is no page at this address' })).toBeVisible()
  for (const path of ['/class', '/class/report', '/audit']) {
    await page.goto(path)
    await expect(page.getByRole('heading', { name: 'There is no page at this address' })).toBeVisible()
  }
  await page.getByRole('link', { name: 'Your progress' }).click()
  await expect(page.getByRole('heading', { name: 'Your work over time, QS-07' })).toBeVisible()
  await expect(page.getByRole('link', { name: 'Roster', exact: true })).toHaveCount(0)
  await expectAccessible(page)
  await page.goto('/learner/QS-08')
  await expect(page.getByRole('alert')).toContainText('there is no such learner')
  await page.goto('/account')
  await expectAccessible(page)
  const cookies = await page.context().cookies()
  await page.getByRole('button', { name: 'Sign out' }).click()
  await expect(page.getByRole('heading', { name: 'Sign in' })).toBeVisible()
  // A copied cookie is worth nothing after that.
  await page.context().addCookies(cookies)
  await page.reload()
  await expect(page.getByRole('heading', { name: 'Sign in' })).toBeVisible()
  await page.context().close()
})

test('a learner measures, an instructor remarks, the learner reads it and may not change it', async ({ browser, network, demo }) => {
  const learner = await open(browser, network)
  await signIn(learner, 'QS-07')
  await learner.getByLabel('Scan files').setInputFiles([demo.opposing, demo.after, demo.before])
  for (const name of ['after', 'before', 'opposing']) await expect(learner.getByLabel(`Role of ${name}.stl`)).toHaveValue(name)
  await learner.getByRole('radio', { name: /^26,/ }).click()
  await learner.getByRole('button', { name: 'Measure', exact: true }).click()
  await expect(learner).toHaveURL(/\/attempt\//)
  const path = new URL(learner.url()).pathname
  await learner.getByRole('tab', { name: 'Remarks' }).click()
  await expect(learner.getByText('No remark yet')).toBeVisible({ timeout: 60_000 })
  await expect(learner.getByRole('button', { name: 'Pin a remark' })).toHaveCount(0)

  const instructor = await open(browser, network, path)
  await signIn(instructor, 'QS-I1')
  await instructor.getByRole('tab', { name: 'Remarks' }).click()
  // Until the attempt is measured there is nothing to pin to: 409.
  const pin = (): Promise<number> => instructor.evaluate(async (path) => {
    const headers = { 'content-type': 'application/json', 'x-kerfwright': '1' }
    const body = JSON.stringify({ at: [0, 0, 0], text: 'Hold the axis here.', by: 'x' })
    return (await fetch(`/api/v1${path.replace('attempt', 'attempts')}/remarks`, { method: 'POST', headers, body })).status
  }, path)
  await expect.poll(pin, { timeout: 60_000 }).toBe(201)

  await learner.reload()
  await expect(learner.getByText('Hold the axis here.')).toBeVisible({ timeout: 60_000 })
  await expect(learner.getByText(/^QS-I1,/)).toBeVisible()
  await expect(learner.getByRole('button', { name: 'Show me remark 1' })).toBeVisible()
  for (const name of ['Settle remark 1', 'Remove remark 1']) await expect(learner.getByRole('button', { name })).toHaveCount(0)

  const other = await open(browser, network, path)
  await signIn(other, 'QS-08')
  await expect(other.getByText('There is no such attempt', { exact: false })).toBeVisible()
  for (const page of [learner, instructor, other]) await page.context().close()
})

test('the director makes an account, gives it another password and removes it', async ({ browser, network }) => {
  const page = await open(browser, network, '/accounts')
  await signIn(page, 'QS-D1')
  await expect(page.getByRole('rowheader', { name: 'QS-08' })).toBeVisible()
  await expectAccessible(page)
  await page.getByLabel('Code', { exact: true }).fill('QS-09')
  await page.getByLabel(/^Password, 12/).fill(PASSWORD)
  await page.getByRole('button', { name: 'Make it' }).click()
  await expect(page.getByRole('rowheader', { name: 'QS-09' })).toBeVisible()
  await page.getByRole('button', { name: 'New password for QS-09' }).click()
  await page.getByLabel('New password for QS-09').last().fill('five burs in a tray')
  await page.getByRole('button', { name: 'Give it' }).click()
  await expect(page.getByText('QS-09 has another password.')).toBeVisible()
  await page.getByRole('button', { name: 'Remove QS-09' }).click()
  await expectAccessible(page)
  await page.getByRole('button', { name: 'Remove QS-09' }).last().click()
  await expect(page.getByRole('rowheader', { name: 'QS-09' })).toHaveCount(0)
  await page.context().close()
})

test('the director reads the audit trail', async ({ browser, network }) => {
  const page = await open(browser, network, '/audit')
  await signIn(page, 'QS-D1')
  await expect(page.getByRole('heading', { name: 'Audit trail' })).toBeVisible()
  await expect(page.getByRole('row', { name: /QS-D1 signed in/ }).first()).toBeVisible()
  await expectAccessible(page)
  await page.getByLabel('Find').fill('no such word')
  await expect(page.getByText('No line has these words.')).toBeVisible()
  await page.context().close()
})

test('a sign-in that ends while the page is open leads back to the same page', async ({ browser, network }) => {
  const page = await open(browser, network, '/account')
  await signIn(page, 'QS-08')
  await expect(page.getByRole('heading', { name: 'Your account, QS-08' })).toBeVisible()
  await page.context().clearCookies()
  await page.getByRole('link', { name: 'New attempt' }).click()
  await expect(page.getByText('Your time was over.')).toBeVisible()
  await signIn(page, 'QS-08')
  await expect(page.getByRole('heading', { name: 'Lay the scans on the bench' })).toBeVisible()
  await page.context().close()
})

test('the door fits a phone', async ({ browser, network }) => {
  const page = await open(browser, network, '/', { viewport: { width: 360, height: 640 } })
  await expect(page.getByRole('button', { name: 'Sign in' })).toBeInViewport()
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(360)
  await signIn(page, 'QS-I1')
  await expect(page.getByRole('button', { name: 'Sign out' })).toBeInViewport()
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(360)
  await page.context().close()
})
