import config from './playwright.config.ts'

export default { ...config, testMatch: '*.bench.ts', timeout: 240_000 }
