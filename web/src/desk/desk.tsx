// The owner's desk. It comes as a part of its own, when a page of it is opened.

import type { ComponentType } from 'preact'
import { useEffect, useState } from 'preact/hooks'
import { useBook } from '../book/state'
import { Page } from '../parts/page'
import type { Place } from '../route'
import { deskPlacesEn, deskPlacesEs } from '../words/places'
import { BookPage } from './bookpage'
import { FarmPage } from './farm'
import { Files } from './files'
import { First } from './first'
import { Imports } from './imports'
import { Layout } from './layout'
import { Links } from './links'
import { Messages } from './messages'
import { Papers } from './papers'
import { People } from './people'
import { Square } from './qr'
import { Recalls } from './recalls'
import { Setup } from './setup'
import { Things } from './things'
import { useDesk } from './words'

function Desk() {
  const t = useDesk()
  const { language } = useBook()
  const [{ app, trust }, setAddress] = useState({ app: '', trust: '' })
  useEffect(() => void fetch('/phone-address').then(r => r.json()).then(setAddress).catch(() => undefined), [])
  const shown = trust || (app || location.origin) + '/'
  const places = Object.entries(language === 'es' ? deskPlacesEs : deskPlacesEn).filter(([path]) => path !== 'desk')
  return (
    <Page title={t.title} under={t.lead}>
      <ul class="acts-list narrow-only">{places.map(([path, name]) => <li key={path}><a href={'/app/' + path}><b>{name}</b></a></li>)}</ul>
      <section class="leaf">
        <h2>{t.phoneLink.title}</h2>
        <p>{t.phoneLink.lead}</p>
        {trust && <p>{t.phoneLink.trust}</p>}
        <Square text={shown} label={shown} />
        <p class="mono">{shown}</p>
      </section>
    </Page>
  )
}

export const deskPages: Record<string, ComponentType<{ place: Place }>> = {
  desk: Desk, first: First, setup: Setup, people: People, farm: FarmPage, things: Things, layout: Layout, files: Files, papers: Papers, messages: Messages, links: Links, recalls: Recalls, imports: Imports, book: BookPage,
}
