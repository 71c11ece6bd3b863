// Where in the app we are. Addresses are real, so that the browser's own back button, bookmarks and reloads work.

import { useEffect, useState } from 'preact/hooks'

export interface Place { parts: string[]; asked: URLSearchParams }

const here = (): Place => ({
  parts: location.pathname.replace(/^\/app/, '').split('/').filter(Boolean).map(decodeURIComponent),
  asked: new URLSearchParams(location.search),
})

const moved = 'croftmark-moved'

export function go(href: string, replace = false): void {
  if (replace) history.replaceState(null, '', href)
  else history.pushState(null, '', href)
  dispatchEvent(new Event(moved))
  scrollTo(0, 0)
}

export function usePlace(): Place {
  const [place, setPlace] = useState(here)
  useEffect(() => {
    const look = () => setPlace(here())
    addEventListener('popstate', look)
    addEventListener(moved, look)
    return () => {
      removeEventListener('popstate', look)
      removeEventListener(moved, look)
    }
  }, [])
  return place
}

// follow makes a link of ours change the page without loading it anew.
export function follow(e: MouseEvent): void {
  if (e.defaultPrevented || e.button !== 0 || e.metaKey || e.ctrlKey || e.shiftKey || e.altKey) return
  const link = (e.target as Element | null)?.closest?.('a')
  if (!link || link.target || link.hasAttribute('download') || link.origin !== location.origin || !link.pathname.startsWith('/app/')) return
  e.preventDefault()
  go(link.pathname + link.search)
}
