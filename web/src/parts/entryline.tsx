// An entry in words, and what a person can do with one that the book refused.

import { useState } from 'preact/hooks'
import type { Entry, Picture, Said } from '../book/queue'
import type { Quantity } from '../book/records'
import { sizeOf } from '../book/picture'
import { useBook } from '../book/state'
import { discard, resend, without } from '../book/sync'
import { amount, day, useWords, type Words } from '../words/words'
import { cleaned } from './pad'
import { Name } from './page'
import { Reasons, Told } from './verdict'

const actName = (w: Words, act: Said['act']): string => (w.wait.act as Record<string, string>)[act] ?? w.mend.act[act] ?? act

export function EntryLine({ said, pictures }: { said: Said; pictures?: Picture[] }) {
  const w = useWords()
  return (
    <p class="entry">
      <b>{actName(w, said.act)}</b>
      {said.thing && <> <Name>{said.thing}</Name></>}
      {said.beds && said.beds.length > 0 && <>, <Name>{said.beds.join(', ')}</Name></>}
      {said.quantity && <>, {amount(w, said.quantity)}</>}
      {said.readings && <>: {said.readings.map((r, i) => <span key={i}>{i > 0 && ', '}<Name>{r.probe}</Name> {amount(w, { value: r.value, unit: r.unit })}</span>)}</>}
      , {day(w, said.on)}
      {said.already && <> ({w.wait.already})</>}
      {pictures && pictures.length > 0 && <>, {w.mend.pictures.waits(w.mend.pictures.count(pictures.length), sizeOf(pictures.reduce((n, p) => n + p.bytes, 0)))}</>}
    </p>
  )
}

export function RefusedEntry({ entry }: { entry: Entry }) {
  const w = useWords()
  const [step, setStep] = useState<'' | 'discard' | 'edit'>('')
  const [value, setValue] = useState(entry.said.quantity?.value ?? '')
  const p = entry.problem
  const harvest = p?.type?.endsWith('/harvest-refused')
  // A refused harvest brings its reasons in both languages; the sentence above them comes in English only.
  const reasons = p?.reasons?.filter(r => r.verdict !== 'clear' && r.verdict !== 'caution') ?? []
  const field = quantityField(entry)
  const sendChanged = (e: Event) => {
    e.preventDefault()
    if (!field || !(Number(value) > 0)) return
    const quantity: Quantity = { ...(entry.body[field] as Quantity), value }
    void resend(entry, { [field]: quantity }, { quantity })
  }
  return (
    <section class="refusal">
      <EntryLine said={entry.said} pictures={entry.pictures} />
      {p && <p class="why" lang="en" role="alert"><b><bdi>{p.title}</bdi></b> <Told text={p.detail} /></p>}
      {p?.errors && p.errors.length > 1 && <ul lang="en">{p.errors.map((e, i) => <li key={i}><Told text={e.detail} /></li>)}</ul>}
      {reasons.length > 0 && <Reasons reasons={reasons} />}
      {step === 'discard' ? (
        <div role="alertdialog" aria-label={w.wait.discard}>
          <p><b>{w.wait.discardSure}</b></p>
          <p class="acts">
            <button type="button" class="main" onClick={() => void discard(entry.id)}>{w.wait.discardYes}</button>
            <button type="button" onClick={() => setStep('')}>{w.wait.keepIt}</button>
          </p>
        </div>
      ) : step === 'edit' ? (
        <form onSubmit={sendChanged}>
          <label class="field">{w.wait.amount}
            <input inputMode="decimal" autocomplete="off" value={value} onInput={e => { e.currentTarget.value = cleaned(e.currentTarget.value); setValue(e.currentTarget.value) }} />
          </label>
          <p class="acts">
            <button class="main">{w.wait.sendChanged}</button>
            <button type="button" onClick={() => setStep('')}>{w.back}</button>
          </p>
        </form>
      ) : (
        <p class="acts">
          {harvest && <button type="button" class="main" onClick={() => void resend(entry, { already_cut: true }, { already: true })}>{w.wait.asCut}</button>}
          <button type="button" onClick={() => void resend(entry)}>{w.wait.again}</button>
          {entry.pictures && !entry.path.endsWith('/corrections') && <button type="button" onClick={() => void without(entry)}>{w.mend.pictures.without}</button>}
          {field && <button type="button" onClick={() => setStep('edit')}>{w.wait.edit}</button>}
          <button type="button" onClick={() => setStep('discard')}>{w.wait.discard}</button>
        </p>
      )}
    </section>
  )
}

function quantityField(entry: Entry): 'quantity' | 'amount' | undefined {
  return entry.body.quantity ? 'quantity' : entry.body.amount ? 'amount' : undefined
}

// WaitingEntry is one that has not been sent. It can be taken out again, as a line on a slip of paper can be crossed out.
export function WaitingEntry({ entry }: { entry: Entry }) {
  const w = useWords()
  const t = w.mend.lately
  const { sendingNow } = useBook()
  const [asked, setAsked] = useState(false)
  return (
    <>
      <EntryLine said={entry.said} pictures={entry.pictures} />
      {asked ? (
        <div role="alertdialog" aria-label={t.takeOut}>
          <p><b>{t.takeOutSure}</b></p>
          <p class="acts"><button type="button" class="main" onClick={() => void discard(entry.id)}>{t.takeOutYes}</button><button type="button" onClick={() => setAsked(false)}>{w.wait.keepIt}</button></p>
        </div>
      ) : sendingNow?.id !== entry.id && <p class="acts"><button type="button" onClick={() => setAsked(true)}>{t.takeOut}</button></p>}
    </>
  )
}
