// What I saw: flood, droppings, drift, glass. Until the book has it, the phone itself is careful about the bed.

import { useState } from 'preact/hooks'
import { useBook } from '../book/state'
import { write } from '../book/sync'
import { BedsField, dayOf, Finish, Hour, Late, momentOf, OneOf, Text, useDraft, YesNoUnknown } from '../parts/fields'
import { Helper, Page } from '../parts/page'
import { PicturesField, usePictures } from '../parts/pictures'
import { Picked } from '../parts/pick'
import { go, type Place } from '../route'
import { useWords } from '../words/words'

export function SeenPage({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.seen
  const { known, habits } = useBook()
  const asked = place.asked.get('bed') ?? habits.bed
  const [d, put] = useDraft({ kind: '', beds: asked ? [asked] : [] as string[], substance: '', touched: '', part: '', note: '', at: '', late: '' })
  const [busy, setBusy] = useState(false)
  const pictures = usePictures()
  const drifts = d.kind === 'drift' || d.kind === 'spill'
  const beds = known?.beds.filter(b => d.beds.includes(b.id)) ?? []
  const missing = [
    !d.kind && t.need.what, beds.length === 0 && t.need.where, drifts && !d.substance && t.need.substance, !d.touched && t.need.touched,
    d.kind === 'other' && !d.note.trim() && t.need.note,
  ]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    const on = dayOf(d.at)
    const { id } = await write({
      path: '/v1/findings',
      body: {
        kind: d.kind, ground: { bed_ids: d.beds }, found_at: momentOf(d.at), touched_crop: d.touched, done_at: undefined,
        ...(drifts ? { substance: d.substance } : {}), ...(d.part.trim() ? { part: d.part.trim() } : {}), ...(d.note.trim() ? { note: d.note.trim() } : {}),
        ...(d.late.trim() ? { late_reason: d.late.trim() } : {}),
      },
      said: { act: 'see', beds: beds.map(b => b.name), thing: t.kinds[d.kind], on },
      touches: { bed_ids: d.beds, what: t.kinds[d.kind] ?? d.kind, on, seen: true }, pictures: pictures.taken,
    })
    go('/app/entry/' + id, true)
  }
  return (
    <Page title={t.title}>
      <form onSubmit={done}>
        {d.kind
          ? <Picked label={t.title} change={w.change} onChange={() => put({ kind: '' })}><b>{t.kinds[d.kind]}</b></Picked>
          : <OneOf legend={t.what} of={t.kinds} value={d.kind} onValue={kind => put({ kind })} />}
        <BedsField chosen={d.beds} onChosen={beds => put({ beds })} />
        {drifts && <OneOf legend={t.substance} of={t.substances} value={d.substance} onValue={substance => put({ substance })} />}
        <YesNoUnknown legend={t.touched} value={d.touched} onValue={touched => put({ touched })} />
        <p class="note">{t.first}</p>
        <PicturesField {...pictures} />
        <Hour legend={w.acts.form.when} value={d.at} onValue={at => put({ at })} />
        <Late on={dayOf(d.at)} value={d.late} onValue={late => put({ late })} />
        <Text label={t.part} value={d.part} onValue={part => put({ part })} />
        <Text label={d.kind === 'other' ? w.acts.form.note : w.acts.form.notes} long value={d.note} onValue={note => put({ note })} />
        <Finish missing={missing} busy={busy || pictures.busy} label={w.acts.form.done} />
      </form>
      <Helper />
    </Page>
  )
}
