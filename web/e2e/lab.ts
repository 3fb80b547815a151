/** A made-up class on a server of its own. */

import { execFileSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

import { findKerf, PORT, Server, test as base } from './bench.ts'

export interface Lab {
  server: Server
  /** `kerf class` on the lab's data. */
  kerf: (...args: string[]) => string
  folder: string
}

/** A class of five made-up learners, measured and taken in by the command line, with what three examiners gave. */
export const test = base.extend<object, { lab: Lab }>({
  lab: [
    async ({}, use) => {
      const folder = mkdtempSync(join(tmpdir(), 'kerf-class-'))
      const data = join(folder, 'data')
      const run = (...args: string[]): string => execFileSync(findKerf(), args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] })
      const kerf = (...args: string[]): string => run('class', ...args, '--data', data)
      run('demo', '--class', '5', '--out', folder)
      kerf('import', join(folder, 'roster.csv'))
      kerf('run', join(folder, 'manifest.csv'), '--quiet')
      kerf('session', 'week-1', '--title', 'First week', '--instructor', 'QS-I1', '--held', '2026-11-02')
      writeFileSync(join(folder, 'ratings.csv'), ratings())
      kerf('rate', join(folder, 'ratings.csv'))
      const server = new Server(PORT + 5, data)
      await server.start()
      await use({ server, kerf, folder })
      await server.stop()
      rmSync(folder, { recursive: true, force: true })
    },
    { scope: 'worker', timeout: 300_000 },
  ],
  baseURL: async ({ lab }, use) => use(lab.server.url),
})

/** Three examiners on eight attempts; the third gives less, and everybody graded the first four again. Two of them graded wall heights, which are measured. */
function ratings(): string {
  const lines = ['examiner,attempt,criterion,value,occasion']
  for (let attempt = 1; attempt <= 8; attempt++) {
    for (const [k, examiner] of ['QS-E1', 'QS-E2', 'QS-E3'].entries()) {
      const value = Math.max(0, (attempt % 3) - (k === 2 && attempt % 2 === 0 ? 1 : 0))
      lines.push(`${examiner},${attempt},finish,${value},1`)
      if (attempt <= 4) lines.push(`${examiner},${attempt},finish,${value},2`)
      if (k < 2) lines.push(`${examiner},${attempt},wall-height,${(attempt + k) % 3},1`)
    }
  }
  return lines.join('\n')
}
