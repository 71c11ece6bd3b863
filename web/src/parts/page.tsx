// One page: its heading takes the focus when the page is opened, so that a reader or a keyboard starts there.

import type { ComponentChildren } from 'preact'
import { useEffect, useLayoutEffect, useRef } from 'preact/hooks'
import { useWords } from '../words/words'

let opened = 0

export function Page({ title, under, children }: { title: ComponentChildren; under?: ComponentChildren; children: ComponentChildren }) {
  const heading = useRef<HTMLHeadingElement>(null)
  // Before the page is painted: a key that is pressed as it appears must not go to the link that was left.
  useLayoutEffect(() => {
    // A field that somebody has already gone into keeps the focus: what is typed next belongs there.
    const inField = document.activeElement?.matches('input, select, textarea')
    if (opened++ > 0 && !inField) heading.current?.focus({ preventScroll: true })
  }, [])
  useEffect(() => {
    document.title = (heading.current?.textContent ?? '') + ' · Croftmark'
  })
  return (
    <main class="page" id="page">
      <h1 tabIndex={-1} ref={heading}>{title}</h1>
      {under && <p class="under">{under}</p>}
      {children}
    </main>
  )
}

// Helper is the sentence that stands on every page that judges.
export function Helper() {
  const w = useWords()
  return <p class="helper">{w.helper}</p>
}

// Phone is a number to call by a tap.
export function Phone({ children: number }: { children: string }) {
  return <a class="call" href={'tel:' + number.replace(/[^\d+]/g, '')}><bdi>{number}</bdi></a>
}

// Name shows a name somebody gave, in whatever script, without letting it turn the text around it.
export function Name({ children }: { children: ComponentChildren }) {
  return <bdi class="name">{children}</bdi>
}
