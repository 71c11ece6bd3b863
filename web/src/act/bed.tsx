// A bed: what may be cut on it, and everything its ground remembers, as a strip of time and in words.

import { useEffect, useState } from 'preact/hooks'
import { get, NoSignal } from '../book/http'
import { keep, kept } from '../book/keep'
import { refuses, seenHere, untold } from '../book/judge'
import type { Ground } from '../book/records'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { Gate } from '../draw/gate'
import { Strip } from '../draw/strip'
import { Helper, Name, Page } from '../parts/page'
import { Reasons, Stale, Why } from '../parts/verdict'
import type { Place } from '../route'
import { age, day, useWords } from '../words/words'

interface Kept { at: number; ground: Ground }

export function Bed({ place }: { place: Place }) {
  const w = useWords()
  const { known, queue, sent, token, now } = useBook()
  const id = place.parts[1] ?? ''
  const [ground, setGround] = useState<Kept>()
  const [none, setNone] = useState(false)
  useEffect(() => {
    const key = 'ground/' + id
    get<Ground>(`/v1/beds/${id}/ground`, token).then(g => {
      const fresh = { at: Date.now(), ground: g }
      setGround(fresh)
      void keep(key, fresh)
    }).catch(async e => {
      const old = await kept<Kept>(key)
      if (old) setGround(old)
      else setNone(true)
      if (!(e instanceof NoSignal)) setNone(!old)
    })
  }, [id])
  const bed = known?.beds.find(b => b.id === id)
  const plot = known?.plots.find(p => p.id === bed?.plot_id)
  const checks = (known?.checks ?? []).filter(c => c.bed_id === id).map(c => seenHere(c, known!.on, today(), untold(queue, sent, known!.at)))
  if (known && !bed) return <Page title={w.nothingHere}><p><a class="go" href="/app/beds">{w.plan.title}</a></p></Page>
  if (!bed) return <Page title={w.plan.title}><Stale /></Page>
  return (
    <Page title={<Name>{bed.name}</Name>} under={plot && <>{w.bed.inPlot('')}<Name>{plot.name}</Name>{bed.in_production === false && <>, {w.bed.outOfUse}</>}</>}>
      <section class="leaf">
        <h2>{w.bed.now}</h2>
        {bed.to && <p>{w.bed.ended(day(w, bed.to))}</p>}
        {!bed.to && checks.length === 0 && <p>{w.bed.nothing}</p>}
        <ul class="lines">
          {checks.map(c => (
            <li key={c.planting_id} class="line">
              <div class="margin"><Gate verdict={c.verdict} /></div>
              <div class="top">
                <p class={'word is-' + c.verdict}>{w.verdict[c.verdict]}</p>
                <h3><Name>{c.crop}</Name></h3>
              </div>
              <div class="body">
                {c.verdict === 'wait' && c.clear_on && <p class="opens">{w.today.opensOn(day(w, c.clear_on))}</p>}
                {(c.careful || c.reasons.length === 0) && <Why check={c} />}
                <Reasons reasons={c.reasons} />
              </div>
              {!refuses(c.verdict) && <a class="go main" href={`/app/cut?bed=${id}&planting=${c.planting_id}`} aria-label={w.today.cutThis(c.bed, c.crop)}>{w.today.cut}</a>}
            </li>
          ))}
        </ul>
        {!bed.to && <p class="acts"><a class="go" href={'/app/spread?bed=' + id}>{w.bed.spread}</a><a class="go" href={'/app/spray?bed=' + id}>{w.acts.more.spray}</a><a class="go" href={'/app/holds/new?bed=' + id}>{w.mend.holds.put}</a></p>}
      </section>
      <section class="leaf">
        <h2>{w.bed.history}</h2>
        {none && <p class="stale">{w.bed.notKept}</p>}
        {ground && (
          <>
            <p class="cite">{w.bed.groundAge(age(w, ground.at, now))} {w.bed.since(day(w, ground.ground.from))}.</p>
            {ground.ground.exposures.length === 0 ? <p>{w.bed.noHistory}</p> : <Strip ground={ground.ground} checks={checks} />}
          </>
        )}
      </section>
      <Stale />
      <Helper />
    </Page>
  )
}
