import { describe, expect, it, vi } from 'vitest'

import { strip } from '../bench/surface.ts'
import { bandAt, railOf } from './ask.ts'
import { latestOnly, onReach, Refusal, ask } from './client.ts'
import { numbers, parse, path } from './route.ts'
import type { Grade, Ring } from './wire.ts'
import { listed, matches } from './titles.ts'
import { amount, onPages, spread } from './words.ts'

describe('routes', () => {
  it('come back from their own path', () => {
    for (const href of ['/', '/kiosk', '/attempt/a1', '/attempt/a1/section', '/attempt/a%2F1/ring', '/compare/a/b', '/compare/a/target']) {
      expect(path(parse(href))).toBe(href)
    }
    expect(parse('/attempt/a1/upside')).toEqual({ page: 'missing', path: '/attempt/a1/upside' })
    expect(parse('/compare/a')).toEqual({ page: 'missing', path: '/compare/a' })
  })

  it('take numbers only where all are numbers', () => {
    expect(numbers('30,-5,1.2', 3)).toEqual([30, -5, 1.2])
    for (const text of [null, '', '1,2', '1,x,3', '1,2,Infinity']) expect(numbers(text, 3)).toBeNull()
  })
})

describe('words', () => {
  it('write numbers as people read them', () => {
    expect(amount(-3.14, 'deg')).toBe('−3.1°')
    expect(amount(-0.001, 'mm')).toBe('0.00 mm')
    expect(amount(11.6, 'um')).toBe('12 µm')
    expect(amount('chamfer', '')).toBe('chamfer')
    expect([spread(0.031, 'mm'), spread(undefined, 'mm')]).toEqual(['± 0.03 mm', ''])
  })
})

describe('sentences of the core', () => {
  it('lose the options of the command line', () => {
    const cases = [
      ['needs the scan before cutting: give it with --before', 'needs the scan before cutting: drop it too'],
      ['not a closed bite; check --opposing-frame', 'not a closed bite; check with which scan the opposing one lies'],
      ['a.stl: cannot tell mesial from distal (no neighbours); say it with --mesial-point: 1,2,3 lie on the sides', 'a.stl: cannot tell mesial from distal (no neighbours); tap its mesial side'],
      ['a.stl: 2 prepared teeth found; name all of them, for example --tooth 35,37, or give a point', 'a.stl: 2 prepared teeth found; name all of them in the tooth chart, or give a point'],
      ['needs at least two prepared teeth: name them with --tooth', 'needs at least two prepared teeth: choose them in the tooth chart'],
    ]
    for (const [told, shown] of cases) expect(onPages(told!)).toBe(shown)
  })
})

describe('titles of readings', () => {
  const group = (id: string, heading: string, ...readings: [string, string][]) => ({
    id, heading, about: '', readings: readings.map(([id, title]) => ({ id, title })),
  })

  it('come once, in the order of the first list that has them', () => {
    const one = [group('taper', 'Taper', ['taper.mesial_deg', 'Wall, mesial'])]
    const other = [group('taper', 'Taper', ['taper.mesial_deg', 'Wall, mesial'], ['taper.distal_deg', 'Wall, distal'])]
    expect(listed([one, other]).map((entry) => entry.full)).toEqual(['Taper: Wall, mesial', 'Taper: Wall, distal'])
  })

  it('are found by all words of a search', () => {
    expect(matches('taper MESIAL', 'taper.mesial_deg', 'Wall, mesial')).toBe(true)
    expect(matches('taper facial', 'taper.mesial_deg', undefined)).toBe(false)
    expect(matches('  ', 'anything')).toBe(true)
  })
})

describe('what is asked of the finish line', () => {
  const item = (reading: string, acceptable: string, wanted = {}) => ({ reading, acceptable, wanted, unit: 'mm' })
  const grade = {
    criteria: [
      {
        items: [
          item('finish_line.width.mesial_mm', 'meets', { ideal: {}, acceptable: { from: 0.4, to: 1.2 } }),
          item('finish_line.width.facial_mm', 'meets', { ideal: {}, acceptable: { from: 0.9 } }),
          item('finish_line.kind.facial', 'does_not_meet', { ideal_words: ['shoulder'], acceptable_words: ['shoulder'] }),
          item('finish_line.above_gingiva.distal_mm', 'too_close', {}),
        ],
      },
    ],
  } as unknown as Grade
  const station = (aspect: string, seen = true) => ({ aspect, seen, point: [0, 0, 0] })

  it('is the worst of width, kind and height at each aspect', () => {
    const ring = { stations: [station('mesial'), station('facial'), station('distal'), station('lingual'), station('mesial', false)] }
    const states = railOf(ring as unknown as Ring, grade).map((point) => point.state)
    expect(states).toEqual(['meets', 'does_not_meet', 'too_close', 'plain', 'unseen'])
    expect(railOf(ring as unknown as Ring, null).map((point) => point.state).slice(0, 2)).toEqual(['plain', 'plain'])
  })

  it('has the range that the exercise set', () => {
    expect(bandAt(grade, 'width_mm', 'mesial', 'acceptable')).toEqual({ from: 0.4, to: 1.2 })
    expect(bandAt(grade, 'width_mm', 'facial', 'acceptable')).toEqual({ from: 0.9, to: undefined })
    expect(bandAt(grade, 'taper_deg', 'facial', 'acceptable')).toBeNull()
  })
})

describe('the strip of colours', () => {
  it('holds each step of the legend over its own share', () => {
    const legend = [
      { from: 0, to: 1, colour: '#010203', words: '' },
      { from: 1, to: 2, colour: '#fa8000', words: '' },
    ]
    const texels = strip({ least: 0, most: 2, legend }, 8)
    expect([...texels.slice(12, 16)]).toEqual([1, 2, 3, 255])
    expect([...texels.slice(16, 20)]).toEqual([250, 128, 0, 255])
  })
})

describe('asking the server', () => {
  it('drops what was overtaken and keeps the newest', async () => {
    const asked: number[] = []
    const taken: number[] = []
    const waiting: (() => void)[] = []
    const run = (n: number): Promise<number> => {
      asked.push(n)
      return new Promise((resolve) => waiting.push(() => resolve(n)))
    }
    const put = latestOnly(run, (n) => taken.push(n), () => undefined)
    for (const n of [1, 2, 3, 4]) put(n)
    waiting.shift()!()
    await vi.waitFor(() => expect(asked).toEqual([1, 4]))
    waiting.shift()!()
    await vi.waitFor(() => expect(taken).toEqual([1, 4]))
  })

  it("gives the server's own sentence, and says when nobody answers", async () => {
    const heard: boolean[] = []
    const stop = onReach((isThere) => heard.push(isThere))
    const body = JSON.stringify({ error: { code: 'scan', message: 'a.txt: no scan; export it again' } })
    vi.stubGlobal('fetch', () => Promise.resolve(new Response(body, { status: 422 })))
    await expect(ask('/scans')).rejects.toMatchObject({ code: 'scan', message: 'a.txt: no scan; export it again', status: 422 })
    vi.stubGlobal('fetch', () => Promise.resolve(new Response('<html>', { status: 502 })))
    await expect(ask('/scans')).rejects.toMatchObject({ code: 'unexpected', status: 502 })
    vi.stubGlobal('fetch', () => Promise.reject(new TypeError('failed')))
    const gone = await ask('/scans').catch((error: unknown) => error)
    expect(gone).toBeInstanceOf(Refusal)
    expect((gone as Refusal).isGone).toBe(true)
    expect(heard).toEqual([true, true, false])
    stop()
    vi.unstubAllGlobals()
  })
})
