// Lab reports, certificates and photos at the desk: a file is sent once, and then named by any record that it belongs to.

import { useRef, useState } from 'preact/hooks'
import { NoSignal, Refused, sendFile } from '../book/http'
import { useAnswer } from '../book/now'
import type { Known } from '../book/state'
import { useBook } from '../book/state'
import { Far } from '../parts/far'
import { inTongue, nameOf } from '../parts/facts'
import { OneOf, Text } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { FileButton } from '../parts/picture'
import { day, useWords, type Words } from '../words/words'
import { Form } from './form'
import { useDesk } from './words'

interface Filed { id: string; hash: string; media_type: string; bytes: number; name?: string; note?: string; done_on?: string; private?: boolean; voided?: boolean }
type Told = Record<string, unknown> & { id: string; done_on?: string; attachments?: string[]; voided?: boolean }

const megabytes = (bytes: number) => (bytes < 100_000 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`)

export function Files() {
  const w = useWords()
  const t = useDesk().files
  const files = useAnswer<Filed[]>('/v1/attachments?limit=100')
  const [chosen, setChosen] = useState<Filed>()
  return (
    <Page title={t.title} under={t.lead}>
      <section class="leaf"><h2>{t.send}</h2><Send onSent={f => { setChosen(f); files.again() }} /></section>
      {chosen && <section class="leaf"><h2>{t.belongs} <Name>{chosen.name ?? chosen.hash.slice(0, 12)}</Name></h2><Attach file={chosen} key={chosen.hash} /></section>}
      <section class="leaf">
        <h2>{t.all}</h2>
        <Far of={files} />
        {files.value?.length === 0 && <p>{t.none}</p>}
        <ul class="plain">
          {files.value?.filter(f => !f.voided).map(f => (
            <li key={f.id} class="sent">
              <div><b><Name>{f.name ?? f.hash.slice(0, 12)}</Name></b>, {megabytes(f.bytes)}{f.done_on && <>, {day(w, f.done_on)}</>}{f.private && <>, {t.private}</>}{f.note && <><br /><Name>{f.note}</Name></>}</div>
              <span class="acts">
                <FileButton path={'/v1/files/' + f.hash} name={f.name ?? f.hash}>{t.open}</FileButton>
                <button type="button" onClick={() => { setChosen(f); scrollTo(0, 0) }}>{t.attach}<span class="unseen"> {f.name}</span></button>
              </span>
            </li>
          ))}
        </ul>
      </section>
      <Helper />
    </Page>
  )
}

function Send({ onSent }: { onSent: (file: Filed) => void }) {
  const w = useWords()
  const t = useDesk().files
  const { token } = useBook()
  const [file, setFile] = useState<File>()
  const [note, setNote] = useState('')
  const [hidden, setHidden] = useState(false)
  const [busy, setBusy] = useState(false)
  const [told, setTold] = useState<{ bad: boolean; text: string }>()
  const stop = useRef<AbortController>(null)
  const send = async (e: Event) => {
    e.preventDefault()
    if (!file || busy) return
    const now = stop.current = new AbortController()
    setBusy(true)
    setTold(undefined)
    const asked = new URLSearchParams({ name: file.name, ...(note.trim() ? { note: note.trim() } : {}), ...(hidden ? { private: 'true' } : {}) })
    try {
      onSent(await sendFile<Filed>('/v1/attachments?' + asked, token, file, now.signal))
      setTold({ bad: false, text: w.acts.form.written })
      setNote('')
    } catch (e) {
      if (!(e instanceof NoSignal || e instanceof Refused)) throw e
      setTold({ bad: true, text: now.signal.aborted ? t.stopped : e instanceof Refused ? e.problem.detail : w.acts.form.online })
    }
    setBusy(false)
  }
  return (
    <form onSubmit={send}>
      <label class="field">{t.file}<input type="file" accept=".pdf,.jpg,.jpeg,.png,.webp,application/pdf,image/jpeg,image/png,image/webp" onChange={e => { setFile(e.currentTarget.files?.[0]); setTold(undefined) }} /></label>
      <Text label={t.note} value={note} onValue={setNote} />
      <label class="tick"><input type="checkbox" checked={hidden} onChange={() => setHidden(!hidden)} /> {t.private}</label>
      {told && <p class={told.bad ? 'told slip' : 'note'} role={told.bad ? 'alert' : 'status'}><bdi>{told.text}</bdi></p>}
      <p class="acts">
        <button class="main" disabled={!file || busy}>{busy ? w.working : t.sendNow}</button>
        {busy && <button type="button" onClick={() => stop.current?.abort()}>{w.acts.form.stop}</button>}
      </p>
    </form>
  )
}

// sayRecord tells a record apart from others of its kind: its day, its own name, and what it is about.
function sayRecord(w: Words, known: Known | undefined, r: Told): string {
  const sheet = known?.sheets?.find(s => s.key === r.sheet)
  const own = [r.name, r.code, r.analyte, r.supplier_lot, r.supplier, r.number, sheet && inTongue(sheet.title)].filter(x => typeof x === 'string')
  const about = ['source_id', 'input_id', 'compost_batch_id', 'planting_id'].map(key => nameOf(known, String(r[key] ?? '')))
  const on = String(r.sampled_at ?? r.received_on ?? r.applied_on ?? r.done_on ?? '').slice(0, 10)
  return [on && day(w, on), ...own, ...about].filter(Boolean).join(', ')
}

function Attach({ file }: { file: Filed }) {
  const w = useWords()
  const t = useDesk().files
  const { known } = useBook()
  const [kind, setKind] = useState('')
  const [id, setId] = useState('')
  const records = useAnswer<Told[]>(kind ? `/v1/${kind}?limit=30` : '')
  const list = (kind && records.value?.filter(r => !r.voided)) || []
  const record = list.find(r => r.id === id)
  const has = record?.attachments?.includes(file.hash)
  return (
    <Form path={`/v1/${kind}/${id}/corrections`} label={t.attachNow} said={t.attached} missing={[!kind && t.kind, !record && t.which, has && t.already]} onDone={records.again}
      body={() => ({ reason: t.reason(file.name ?? ''), changes: { attachments: [...(record?.attachments ?? []), file.hash] } })}>
      <OneOf legend={t.kind} of={t.kinds} value={kind} onValue={k => { setKind(k); setId('') }} />
      {kind && records.value && list.length === 0 && <p>{t.noRecords}</p>}
      {list.length > 0 && <Pick wide legend={t.which} chosen={[id]} onPick={setId} choices={list.map(r => ({ id: r.id, label: <Name>{sayRecord(w, known, r)}</Name>, under: r.attachments?.length ? t.files(r.attachments.length) : undefined }))} />}
    </Form>
  )
}
