import { existsSync } from 'node:fs'

const PLACES = [
  process.env.KERF_BROWSER,
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
  '/usr/bin/google-chrome-stable',
  '/usr/bin/microsoft-edge',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
  '/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge',
  'C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe',
  'C:\\Program Files (x86)\\Google\\Chrome\\Application\\chrome.exe',
  'C:\\Program Files (x86)\\Microsoft\\Edge\\Application\\msedge.exe',
]

/** An installed Chromium, Chrome or Edge. */
export function findBrowser(): string {
  const found = PLACES.find((place) => place && existsSync(place))
  if (found) return found
  throw new Error('no Chromium, Chrome or Edge is installed: install one (Debian: apt install chromium) or name it in KERF_BROWSER')
}
