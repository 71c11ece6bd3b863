// The app begins here: open what is kept on this phone, draw, and let the service worker keep the app itself.

import { render } from 'preact'
import { App } from './app'
import { openBook } from './book/book'
import { current } from './book/state'
import { go } from './route'
import { wordsOf } from './words/words'

const root = document.getElementById('book')!

function broken(): void {
  if (current().otherPages) return // the page says so itself
  const note = document.createElement('p')
  note.setAttribute('role', 'alert')
  note.className = 'broken'
  note.textContent = wordsOf(current().language).wentWrong
  document.body.prepend(note)
}

addEventListener('unhandledrejection', broken)
addEventListener('error', broken)

if (location.pathname === '/') go('/app/today' + location.hash, true)
root.textContent = ''
render(<App />, root)
void openBook()

if ('serviceWorker' in navigator) {
  navigator.serviceWorker.register('/app/worker.js', { scope: '/' }).catch(() => undefined) // without it the app works with signal only
}
