// A record as it stands, how it came about, and putting a mistake right: one field, a picture more, or the whole record
// void. The original stays readable, and a correction may wait for signal like any entry.

import { useState } from 'preact/hooks'
import { isSprayed, kindOfPath, mendFields, mendKinds } from '../book/kinds'
import { useAnswer } from '../book/now'
import { atLeast } from '../book/role'
import { current, useBook, type Known } from '../book/state'
import { today, write } from '../book/sync'
import { Far } from '../parts/far'
import { Facts, inTongue, nameOf, sayField } from '../parts/facts'
import { Finish } from '../parts/fields'
import { History } from '../parts/history'
import { Helper, Name, Page } from '../parts/page'
import { Pick, Picked } from '../parts/pick'
import { PicturesField, PicturesOf, usePictures } from '../parts/pictures'
import { WhyField } from '../parts/why'
import { go, type Place } from '../route'
import { useWords, wordsOf, type Words } from '../words/words'
import { Right } from './right'

type Fields = Record<string, unknown>

export function Mend({ place }: { place: Place }) {
  const w = useWords()
  const t = w.mend.mend
  const { known, sent } = useBook()
  const [, path = '', id = ''] = place.parts
  const kind = kindOfPath(path) ?? ''
  const fresh = useAnswer<Fields>(`/v1/${path}/${id}`)
  const [step, setStep] = useState<'' | 'fix' | 'void' | 'add'>('')
  const note = sent.find(n => n.id === id)
  const record = fresh.value ?? (fresh.far && note ? (note.record as unknown as Fields) : undefined)
  const mend = mendKinds[kind]
  if (!mend) return <Page title={w.nothingHere}><p><a class="go" href="/app/lately">{w.mend.lately.title}</a></p></Page>
  const lead = atLeast(known?.me?.role, 'lead')
  const { voided } = record ?? {}
  return (
    <Page title={kindName(w, known, kind, record ?? {})} under={record && <Name>{gist(known, record)}</Name>}>
      {!record && <Far of={fresh} />}
      {record && (
        <>
          {fresh.far && <p class="stale" role="status">{t.far}</p>}
          {!!voided && <p class="why"><b>{t.voided}</b></p>}
          <Facts record={record} known={known} />
          <PicturesOf hashes={record.attachments as string[] | undefined} />
          {!voided && !step && (mend.fields.length > 0 || mend.voids
            ? lead ? (
              <p class="acts">
                {mend.fields.length > 0 && <button type="button" class="main" onClick={() => setStep('fix')}>{t.which}</button>}
                {mend.fields.length > 0 && <button type="button" onClick={() => setStep('add')}>{w.mend.pictures.add}</button>}
                {mend.voids && <button type="button" onClick={() => setStep('void')}>{t.all}</button>}
              </p>
            ) : <p class="note">{t.leadOnly}</p>
            : <p class="note">{t.never}</p>)}
          {step === 'fix' && <Fix kind={kind} path={path} id={id} record={record} onBack={() => setStep('')} />}
          {step === 'add' && <AddPictures kind={kind} path={path} id={id} record={record} onBack={() => setStep('')} />}
          {step === 'void' && <Void path={path} id={id} kind={kind} record={record} onBack={() => setStep('')} />}
          <History path={path} id={id} known={known} />
        </>
      )}
      <Helper />
    </Page>
  )
}

// kindName names the kind of a record; what is sprayed has a word of its own.
export const kindName = (w: Words, known: Known | undefined, kind: string, record: Fields): string =>
  (kind === 'application' && isSprayed(record, known) ? w.acts.made.spray : w.mend.mend.kinds[kind]) ?? kind

// gist says in a few words which record it is.
export function gist(known: Known | undefined, r: Fields): string {
  const source = r.source as Record<string, string> | undefined
  const beds = (r.bed_ids ?? (r.ground as { bed_ids?: string[] } | undefined)?.bed_ids ?? []) as string[]
  const hold = r.on && typeof r.on === 'object' ? Object.values(r.on as Record<string, string>)[0] : ''
  const named = [r.planting_id, source && Object.values(source)[0], r.source_id, r.compost_batch_id, r.input_id, r.crop_id, r.customer_id, r.lot_id, hold, ...beds].filter(Boolean)
  const sheet = known?.sheets?.find(s => s.key === r.sheet)
  // What is packed is named by a text, what goes into water by its label.
  const product = typeof r.product === 'string' ? r.product : (r.product as { name?: string } | undefined)?.name
  const what = typeof r.what === 'string' && r.what.length > 80 ? r.what.slice(0, 79) + '…' : r.what
  return [r.code, r.species, product, what, sheet && inTongue(sheet.title), ...named.map(id => nameOf(known, id as string)), r.analyte && sayField(wordsOf(current().language), known, 'analyte', r.analyte)].filter(Boolean).join(', ')
}

interface StepProps { kind: string; path: string; id: string; record: Fields; onBack: () => void }

// groundOf gives the beds that a record is about.
const groundOf = (r: Fields): string[] => ((r.ground as { bed_ids?: string[] } | undefined)?.bed_ids ?? []) as string[]

// touchesOf makes the phone careful about the beds that a correction of manure or a finding is about, before and after.
function touchesOf(kind: string, record: Fields, what: string, changes: Fields) {
  if (!['application', 'grazing', 'finding'].includes(kind)) return undefined
  return { bed_ids: [...new Set([...groundOf(record), ...groundOf(changes)])], what, on: String(changes.applied_on ?? record.applied_on ?? record.from ?? record.done_on ?? today()), seen: kind !== 'application' }
}

function Fix({ kind, path, id, record, onBack }: StepProps) {
  const w = useWords()
  const t = w.mend.mend
  const { known } = useBook()
  const [field, setField] = useState('')
  const [value, setValue] = useState<unknown>(undefined)
  const [why, setWhy] = useState('')
  const [busy, setBusy] = useState(false)
  const fields = mendFields(kind, record, known)
  const how = fields.find(([key]) => key === field)?.[1]
  // A tap belongs to its water, so the two are mended together.
  const changes: Fields = how === 'water' ? (value as Fields | undefined) ?? {} : { [field]: value }
  const changed = value !== undefined && Object.entries(changes).some(([key, v]) => JSON.stringify(v) !== JSON.stringify(record[key] ?? null))
  const missing = [!field && t.need.what, field && !changed && t.need.right, !why.trim() && t.need.why]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    const thing = gist(known, record)
    const { id: entry } = await write({
      path: `/v1/${path}/${id}/corrections`, bare: true, body: { reason: why.trim(), changes }, said: { act: 'mend', thing: `${thing || kindName(w, known, kind, record)}: ${t.fields[field] ?? field}` },
      touches: touchesOf(kind, record, thing, changes),
    })
    go('/app/entry/' + entry, true)
  }
  return (
    <form class="refusal" onSubmit={done}>
      {field
        ? <Picked label={t.which} change={w.change} onChange={() => { setField(''); setValue(undefined) }}><b>{t.fields[field] ?? field}</b></Picked>
        : <Pick legend={t.which} chosen={[]} onPick={key => { setField(key); setValue(undefined) }} choices={fields.map(([key]) => ({ id: key, label: t.fields[key] ?? key }))} />}
      {how && <Right key={field} how={how} label={t.becomes} was={record[field]} record={record} onValue={setValue} />}
      {field && changed && (
        <p role="status" class="why"><b>{t.fields[field] ?? field}:</b> {t.was} <Name><Said field={field} value={record[field]} known={known} sheet={record.sheet} /></Name>, {t.is} <b><Name><Said field={field} value={changes[field]} known={known} sheet={record.sheet} /></Name></b></p>
      )}
      {field && <WhyField legend={t.why} whys={t.whys} other={t.whyOther} value={why} onValue={setWhy} />}
      <Finish missing={missing} busy={busy} label={t.done} />
      <p class="acts"><button type="button" onClick={onBack}>{w.back}</button></p>
    </form>
  )
}

// Said writes one value in words, by way of the list of facts.
function Said({ field, value, known, sheet }: { field: string; value: unknown; known?: Known; sheet?: unknown }) {
  const w = useWords()
  const text = sayField(w, known, field, value, sheet)
  return <>{text || w.mend.mend.nothing}</>
}

function AddPictures({ kind, path, id, record, onBack }: StepProps) {
  const w = useWords()
  const { known } = useBook()
  const pictures = usePictures()
  const [busy, setBusy] = useState(false)
  const done = async (e: Event) => {
    e.preventDefault()
    if (pictures.taken.length === 0 || busy) return
    setBusy(true)
    const all = [...new Set([...((record.attachments as string[] | undefined) ?? []), ...pictures.taken.map(p => p.hash)])]
    const { id: entry } = await write({
      path: `/v1/${path}/${id}/corrections`, bare: true, body: { reason: w.mend.pictures.add, changes: { attachments: all } }, pictures: pictures.taken,
      said: { act: 'mend', thing: `${gist(known, record) || kindName(w, known, kind, record)}: ${w.mend.mend.fields.attachments}` },
    })
    go('/app/entry/' + entry, true)
  }
  return (
    <form class="refusal" onSubmit={done}>
      <PicturesField {...pictures} />
      <button class="main whole" disabled={pictures.taken.length === 0 || busy || pictures.busy}>{busy ? w.cut.writing : w.mend.mend.addDone}</button>
      <p class="acts"><button type="button" onClick={onBack}>{w.back}</button></p>
    </form>
  )
}

function Void({ kind, path, id, record, onBack }: StepProps) {
  const w = useWords()
  const t = w.mend.mend
  const { known } = useBook()
  const [why, setWhy] = useState('')
  const [busy, setBusy] = useState(false)
  const done = async (e: Event) => {
    e.preventDefault()
    if (!why.trim() || busy) return
    setBusy(true)
    const { id: entry } = await write({
      path: `/v1/${path}/${id}/void`, bare: true, body: { reason: why.trim() }, said: { act: 'void', thing: `${kindName(w, known, kind, record)} ${gist(known, record)}`.trim() },
    })
    go('/app/entry/' + entry, true)
  }
  return (
    <form class="refusal" onSubmit={done}>
      <p>{t.voidLead}</p>
      <WhyField legend={t.voidWhy} whys={t.voidWhys} other={t.whyOther} value={why} onValue={setWhy} />
      <Finish missing={[!why.trim() && t.need.why]} busy={busy} label={t.voidDone} />
      <p class="acts"><button type="button" onClick={onBack}>{w.back}</button></p>
    </form>
  )
}
