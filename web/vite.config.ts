import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defineConfig } from 'vitest/config'

/** Where `kerf serve` listens while the pages are worked on with `npm run dev`. */
const server = process.env.KERF_SERVER ?? 'http://127.0.0.1:4177'

export default defineConfig({
  plugins: [svelte()],
  build: {
    target: 'es2022',
    // One stylesheet and few scripts: they come from the same machine.
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 900,
    modulePreload: { polyfill: false },
  },
  server: { proxy: { '/api': { target: server, changeOrigin: true } } },
  test: { environment: 'happy-dom', include: ['src/**/*.test.ts'] },
})
