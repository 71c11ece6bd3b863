// Holds: what is stopped, why, by whom; stopping one more thing, which also works without signal; and the lead's release.

import { useState } from 'preact/hooks'
import { remember } from '../book/book'
import { readCode } from '../book/code'
import { newId } from '../book/id'
import { refresh } from '../book/known'
import type { Why } from '../book/records'
import { doNow, useAnswer } from '../book/now'
import { atLeast } from '../book/role'
import { current, useBook, type Known } from '../book/state'
import { today, write } from '../book/sync'
import { Far } from '../parts/far'
import { nameOf, whyHeld } from '../parts/facts'
import { Finish, OneOf, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick, Picked } from '../parts/pick'
import { PicturesField, PicturesOf, usePictures } from '../parts/pictures'
import { WhyField } from '../parts/why'
import { go, type Place } from '../route'
import { day, useWords } from '../words/words'

interface Hold extends Why {
  id: string
  on: Record<string, string>
  released?: { reason: string }
  done_on: string
  done_by: string
  attachments?: string[]
}

export function Holds({ place }: { place: Place }) {
  if (place.parts[1] === 'new') return <New place={place} />
  return <List />
}

function List() {
  const w = useWords()
  const t = w.mend.holds
  const { known } = useBook()
  const holds = useAnswer<Hold[]>('/v1/holds?limit=200')
  const [releasing, setReleasing] = useState('')
  const [told, setTold] = useState('')
  const lead = atLeast(known?.me?.role, 'lead')
  const open = holds.value?.filter(h => !h.released) ?? []
  const past = holds.value?.filter(h => h.released).slice(0, 10) ?? []
  const released = async () => {
    setReleasing('')
    setTold(t.released)
    holds.again()
    void refresh({ lists: true })
  }
  return (
    <Page title={t.title} under={t.lead}>
      <p><a class="go main" href="/app/holds/new">{t.new}</a></p>
      {told && <p role="status"><b>{told}</b></p>}
      <Far of={holds} />
      {holds.value && open.length === 0 && <p>{t.none}</p>}
      {open.length > 0 && (
        <section class="leaf">
          <h2>{t.open} <span class="count">{open.length}</span></h2>
          <ul class="plain">
            {open.map(h => (
              <li key={h.id}>
                <What hold={h} known={known} />
                <PicturesOf hashes={h.attachments} />
                {releasing === h.id ? <Release hold={h} onDone={() => void released()} onBack={() => setReleasing('')} />
                  : lead ? <p class="acts"><button type="button" onClick={() => { setTold(''); setReleasing(h.id) }}>{t.release}<span class="unseen"> {nameOfHold(known, h)}</span></button></p>
                    : <p class="note">{t.leadOnly}</p>}
              </li>
            ))}
          </ul>
        </section>
      )}
      {past.length > 0 && (
        <section class="leaf">
          <h2>{t.past}</h2>
          <ul class="plain">{past.map(h => <li key={h.id}><What hold={h} known={known} /><p class="why"><b>{w.mend.mend.fields.released}:</b> <Name>{h.released!.reason}</Name></p></li>)}</ul>
        </section>
      )}
      <Helper />
    </Page>
  )
}

const nameOfHold = (known: Known | undefined, h: Hold): string => {
  const id = Object.values(h.on)[0] ?? ''
  return nameOf(known, id) ?? known?.onHand?.find(l => l.lot_id === id)?.code ?? ''
}

function What({ hold, known }: { hold: Hold; known?: Known }) {
  const w = useWords()
  return (
    <>
      <p class="entry"><b><Name>{nameOfHold(known, hold)}</Name></b></p>
      <p class="why"><Name>{whyHeld(w, hold)}</Name></p>
      <p class="cite"><Name>{w.mend.holds.by(nameOf(known, hold.done_by) ?? '', day(w, hold.done_on))}</Name></p>
    </>
  )
}

// Release is signed at once and not from a queue: it must rest on what the book knows now.
function Release({ hold, onDone, onBack }: { hold: Hold; onDone: () => void; onBack: () => void }) {
  const w = useWords()
  const t = w.mend.holds
  const [why, setWhy] = useState('')
  const [busy, setBusy] = useState(false)
  const [told, setTold] = useState('')
  const [mark] = useState(newId)
  const done = async (e: Event) => {
    e.preventDefault()
    if (!why.trim() || busy) return
    setBusy(true)
    const { doer } = current()
    const answer = await doNow(`/v1/holds/${hold.id}/release`, { id: mark, reason: why.trim(), ...(doer ? { done_by: doer } : {}) }, mark)
    setBusy(false)
    if ('written' in answer) onDone()
    else setTold('problem' in answer ? answer.problem.detail : w.acts.form.online)
  }
  return (
    <form class="refusal" onSubmit={done}>
      <h3>{t.releaseTitle}</h3>
      <p>{t.releaseLead}</p>
      <Text long label={t.releaseWhy} value={why} onValue={setWhy} />
      {told && <p class="why" role="alert"><Name>{told}</Name></p>}
      <Finish missing={[!why.trim() && t.need.why]} busy={busy} label={t.releaseDone} />
      <p class="acts"><button type="button" onClick={onBack}>{w.back}</button></p>
    </form>
  )
}

function New({ place }: { place: Place }) {
  const w = useWords()
  const t = w.mend.holds
  const { known, habits } = useBook()
  const asked = (['bed', 'lot', 'water', 'delivery', 'batch'] as const).find(k => place.asked.get(k))
  const [d, put] = useDraft({ kind: asked ?? '', id: asked ? place.asked.get(asked)! : '', code: '', why: '', note: '' })
  const [busy, setBusy] = useState(false)
  const pictures = usePictures()
  const choices = choicesOf(known, d.kind)
  const lotOf = (code: string) => (known?.onHand ?? []).find(l => l.code === code)?.lot_id ?? known?.lots.find(l => l.code === code)?.id
  const chosen = choices.find(c => c.id === d.id) ?? choices.find(c => d.kind === 'lot' && (c.label === d.id || c.id === lotOf(d.id)))
  const typed = readCode(d.code)
  const byCode = d.kind === 'lot' && typed.state === 'fits' ? lotOf(typed.lot) : undefined
  const id = chosen?.id ?? byCode
  const name = chosen?.label ?? (typed.state === 'fits' ? typed.lot : '')
  const missing = [!id && t.need.what, !d.why.trim() && t.need.why]
  const field = { bed: 'bed_id', lot: 'lot_id', water: 'water_source_id', delivery: 'input_lot_id', batch: 'compost_batch_id' }[d.kind]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy || !id || !field) return
    setBusy(true)
    if (d.kind === 'bed') remember({ bed: id })
    const written = await write({
      path: '/v1/holds', body: { on: { [field]: id }, reason: d.why.trim(), ...(d.note.trim() ? { note: d.note.trim() } : {}) }, pictures: pictures.taken,
      said: { act: 'hold', thing: name },
      touches: d.kind === 'bed' ? { bed_ids: [id], what: d.why.trim(), on: today(), held: true } : d.kind === 'lot' ? { bed_ids: [], lot_ids: [id], what: d.why.trim(), on: today(), held: true } : undefined,
    })
    go('/app/entry/' + written.id, true)
  }
  return (
    <Page title={t.new}>
      <form onSubmit={done}>
        {d.kind
          ? <Picked label={t.what} change={w.change} onChange={() => put({ kind: '', id: '', code: '' })}><b>{t.kinds[d.kind]}</b></Picked>
          : <OneOf legend={t.what} of={t.kinds} value={d.kind} onValue={kind => put({ kind, id: kind === 'bed' ? habits.bed ?? '' : '' })} />}
        {d.kind && (chosen
          ? <Picked label={t.pick} change={w.change} onChange={() => put({ id: '' })}><b><Name>{chosen.label}</Name></b></Picked>
          : <Pick legend={t.pick} chosen={[]} onPick={id => put({ id })} choices={choices.map(c => ({ id: c.id, label: <Name>{c.label}</Name>, under: c.under && <Name>{c.under}</Name> }))} />)}
        {d.kind === 'lot' && !chosen && (
          <>
            <label class="field">{t.code}<input class="mono" autocomplete="off" autocapitalize="characters" spellcheck={false} value={d.code} onInput={e => put({ code: e.currentTarget.value })} /></label>
            {typed.state === 'fits' && !byCode && <p class="told slip" role="alert">{t.notHere(typed.lot)}</p>}
          </>
        )}
        <WhyField legend={t.why} whys={t.whys} other={t.whyOther} value={d.why} onValue={why => put({ why })} />
        <PicturesField {...pictures} />
        <Text label={w.acts.form.notes} value={d.note} onValue={note => put({ note })} />
        <Finish missing={missing} busy={busy || pictures.busy} label={t.done} />
      </form>
      <Helper />
    </Page>
  )
}

interface Choice { id: string; label: string; under?: string }

function choicesOf(known: Known | undefined, kind: string): Choice[] {
  if (!known) return []
  switch (kind) {
    case 'bed': return known.beds.filter(b => !b.to).map(b => ({ id: b.id, label: b.name, under: known.plots.find(p => p.id === b.plot_id)?.name }))
    case 'lot': return (known.onHand ?? []).filter(l => !l.held).map(l => ({ id: l.lot_id, label: l.code, under: l.name }))
    case 'water': return (known.sources ?? []).filter(s => !s.to).map(s => ({ id: s.id, label: s.name }))
    case 'delivery': return known.inputLots.slice(0, 24).map(l => ({ id: l.id, label: nameOf(known, l.id) ?? '', under: `${l.supplier}, ${l.received_on}` }))
    case 'batch': return known.batches.map(b => ({ id: b.id, label: b.code }))
    default: return []
  }
}
