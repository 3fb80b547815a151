import { defineConfig } from '@playwright/test'

import { findBrowser } from './e2e/browser.ts'

export default defineConfig({
  testDir: 'e2e',
  // The software renderer and the core share the machine: one after the other.
  workers: 1,
  timeout: 90_000,
  expect: { timeout: 20_000 },
  reporter: [['list']],
  use: {
    viewport: { width: 1400, height: 900 },
    locale: 'en-GB',
    contextOptions: { reducedMotion: 'reduce' },
    launchOptions: {
      executablePath: findBrowser(),
      args: ['--no-sandbox', '--use-gl=angle', '--use-angle=swiftshader', '--enable-unsafe-swiftshader'],
    },
  },
})
