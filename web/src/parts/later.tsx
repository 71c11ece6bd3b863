// A page whose part of the app is fetched when it is first opened.

import type { ComponentType } from 'preact'
import { useEffect, useState } from 'preact/hooks'
import type { Place } from '../route'
import { useWords } from '../words/words'

type Pages = Record<string, ComponentType<{ place: Place }>>
let desk: Pages | undefined

export const deskNames = ['desk', 'first', 'setup', 'people', 'farm', 'things', 'layout', 'files', 'papers', 'messages', 'links', 'recalls', 'imports', 'book']

export function DeskPage({ place }: { place: Place }) {
  const w = useWords()
  const [pages, setPages] = useState(desk)
  const [far, setFar] = useState(false)
  useEffect(() => {
    if (!desk) import('../desk/desk').then(part => { desk = part.deskPages; setPages(desk) }).catch(() => setFar(true))
  }, [])
  const Shown = pages?.[place.parts[0] ?? '']
  if (Shown) return <Shown place={place} />
  return <main class="page"><p role="status">{far ? w.acts.form.online : w.working}</p></main>
}
