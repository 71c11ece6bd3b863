// The frame around every page: what waits and how old the knowledge is above, the places of the book below.

import type { ComponentType } from 'preact'
import { useLayoutEffect } from 'preact/hooks'
import { sharedPhone } from './book/http'
import { useBook, type State } from './book/state'
import { Alerts } from './act/alerts'
import { Ask } from './act/ask'
import { Back } from './act/back'
import { BatchPage } from './act/batch'
import { Bed } from './act/bed'
import { Beds } from './act/beds'
import { Chain } from './act/chain'
import { Cut } from './act/cut'
import { Deliver } from './act/deliver'
import { EntryPage } from './act/entry'
import { Graze } from './act/graze'
import { Holds } from './act/holds'
import { Lately } from './act/lately'
import { Load } from './act/load'
import { Log } from './act/log'
import { Look } from './act/look'
import { Labels, Lost } from './act/lost'
import { Me } from './act/me'
import { Mend } from './act/mend'
import { More } from './act/more'
import { Pack } from './act/pack'
import { Pile } from './act/pile'
import { SeenPage } from './act/seen'
import { Sign } from './act/sign'
import { SignIn } from './act/signin'
import { Sources } from './act/sources'
import { Spray } from './act/spray'
import { Spread } from './act/spread'
import { Switch } from './act/switch'
import { Today } from './act/today'
import { Waiting } from './act/waiting'
import { Water } from './act/water'
import { DeskPage, deskNames } from './parts/later'
import { Page } from './parts/page'
import { Places } from './parts/places'
import { follow, usePlace, type Place } from './route'
import { age, useWords } from './words/words'

const pages: Record<string, ComponentType<{ place: Place }>> = {
  today: Today, cut: Cut, spread: Spread, pile: Pile, code: Look, switch: Switch, bed: Bed, beds: Beds, waiting: Waiting, entry: EntryPage, me: Me,
  more: More, seen: SeenPage, water: Water, sources: Sources, graze: Graze, spray: Spray, pack: Pack, load: Load, log: Log, sign: Sign, alerts: Alerts, ask: Ask,
  batch: BatchPage, chain: Chain, lately: Lately, mend: Mend, holds: Holds, back: Back, lost: Lost, labels: Labels, deliver: Deliver,
}
// These show one thing, and nothing when none is named.
const ofOne = ['batch', 'chain']

export function App() {
  const book = useBook()
  const w = useWords()
  const place = usePlace()
  useLayoutEffect(() => { document.documentElement.lang = book.language }, [book.language])
  if (!book.ready) return <main class="page"><OtherPages of={book.otherPages} /></main>
  const name = place.parts[0] ?? 'today'
  const shared = book.token === sharedPhone
  const signedIn = shared ? !!book.person && book.line !== 'signed-out' : !!book.token && book.line !== 'signed-out'
  const desk = deskNames.includes(name)
  // Someone whose token has ended may still look at what waits, and sign in again without losing it.
  const Shown = desk && (signedIn || name === 'first') ? DeskPage : !signedIn && (name !== 'waiting' || !book.token) ? (shared && name !== 'signin' ? Switch : SignIn) 
    : name === 'switch' && !shared ? Me : ofOne.includes(name) && !place.parts[1] ? Missing : pages[name] ?? Missing
  return (
    <div class={'frame' + (desk && name !== 'first' ? ' at-desk' : '')} onClick={follow as never}>
      <a class="skip" href="#page" onClick={e => { e.preventDefault(); document.querySelector('h1')?.focus() }}>{w.skip}</a>
      <OtherPages of={book.otherPages} />
      {book.token && <Head />}
      {book.token && <Places name={name} desk={desk} />}
      <Shown key={place.parts.join('/') + (signedIn ? '' : '-out')} place={place} />
    </div>
  )
}

function OtherPages({ of }: { of?: State['otherPages'] }) {
  const w = useWords()
  if (!of) return null
  return <p class="broken" role="alert">{w.pages[of]} {of === 'newer' && <button type="button" onClick={() => location.reload()}>{w.pages.again}</button>}</p>
}

function Head() {
  const book = useBook()
  const w = useWords()
  const refused = book.queue.filter(e => e.state === 'refused').length
  const waiting = book.queue.length - refused
  const doer = (book.phone?.people ?? book.known?.people ?? []).find(p => p.id === (book.phone ? book.person : book.doer))
  const unproved = book.token === sharedPhone && book.person !== book.proved && book.line !== 'no-signal'
  return (
    <header class={'head' + (book.line === 'no-signal' ? ' far' : '')}>
      <a class={'state' + (book.queue.length ? ' some' : '')} href="/app/waiting">
        <strong>
          {refused > 0 ? w.refusedCount(refused) + (waiting > 0 ? ', ' + w.waitingCount(waiting) : '') : w.waitingCount(waiting)}
        </strong>
        <span>
          {book.known ? w.age.known(age(w, book.known.at, book.now)) : w.age.never}
          {book.line === 'no-signal' ? ' · ' + w.age.noSignal : ''}
        </span>
        {unproved && book.person && <span><b>{w.phone.pinWaits}</b></span>}
      </a>
      <a class="who" href={book.phone ? '/app/switch' : '/app/me'} aria-label={doer ? `${w.me.open}: ${doer.initials}` : w.me.open}>
        {doer ? <bdi>{doer.initials}</bdi> : <svg viewBox="0 0 24 24" aria-hidden="true"><path d="M3 11h18M5 11c0-9 14-9 14 0M7 14v2a5 5 0 0 0 10 0v-2" /></svg>}
      </a>
    </header>
  )
}

function Missing() {
  const w = useWords()
  return <Page title={w.pageNotHere}><p><a class="go" href="/app/today">{w.tab.today}</a></p></Page>
}
