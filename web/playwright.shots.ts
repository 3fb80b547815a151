import config from './playwright.config.ts'

export default { ...config, testMatch: '*.shots.ts', timeout: 600_000 }
