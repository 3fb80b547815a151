// Sets the chosen theme before the first paint; a file of its own since inline scripts are not allowed.
try {
  const theme = localStorage.getItem('theme')
  if (theme === 'light' || theme === 'dark') document.documentElement.dataset.theme = theme
} catch {
  // No storage: the system's choice holds.
}
