// An entry in words, and what a person can do with one that the book refused.

import { useState } from 'preact/hooks'
import type { Entry, Said } from '../book/queue'
import type { Quantity } from '../book/records'
import { discard, resend } from '../book/sync'
import { amount, day, useWords } from '../words/words'
import { cleaned } from './pad'
import { Name } from './page'
import { Reasons, Told } from './verdict'

export function EntryLine({ said }: { said: Said }) {
  const w = useWords()
  return (
    <p class="entry">
      <b>{w.wait.act[said.act]}</b>
      {said.thing && <> <Name>{said.thing}</Name></>}
      {said.beds && said.beds.length > 0 && <>, <Name>{said.beds.join(', ')}</Name></>}
      {said.quantity && <>, {amount(w, said.quantity)}</>}
      {said.readings && <>: {said.readings.map((r, i) => <span key={i}>{i > 0 && ', '}<Name>{r.probe}</Name> {amount(w, { value: r.value, unit: r.unit })}</span>)}</>}
      , {day(w, said.on)}
      {said.already && <> ({w.wait.already})</>}
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
      <EntryLine said={entry.said} />
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
