// What was cut on the same day from the same beds: only people know which came first, the cut or what is written down now.

import type { Entry } from '../book/queue'
import type { Quantity } from '../book/records'
import { useBook, type Known, type SentNote } from '../book/state'
import { amount, useWords } from '../words/words'
import { nameOf } from './facts'
import { Name } from './page'
import { Pick, toggled } from './pick'

interface Cut { id: string; code?: string; crop: string; quantity: Quantity }

// cutsOn lists lots of a day and of beds: those the book told of, those sent since, and those that still wait here.
function cutsOn(known: Known | undefined, sent: SentNote[], queue: Entry[], beds: string[], on: string): Cut[] {
  const here = (l: { bed_ids?: string[]; cut_on?: string; cut_to?: string }) => (l.cut_on || l.cut_to) === on && !!l.bed_ids?.some(b => beds.includes(b))
  const crop = (planting: unknown) => nameOf(known, String(planting)) ?? ''
  const out = new Map<string, Cut>()
  const written = [...sent.map(n => ({ entry: n.entry, code: n.record.code })), ...queue.filter(e => e.state !== 'refused').map(entry => ({ entry, code: undefined }))]
  for (const { entry, code } of written) {
    if (entry.said.act === 'cut' && here(entry.body)) out.set(entry.id, { id: entry.id, code, crop: crop(entry.body.planting_id), quantity: entry.body.quantity as Quantity })
  }
  for (const l of known?.lots ?? []) {
    if (here(l)) out.set(l.id, { id: l.id, code: l.code, crop: crop(l.planting_id), quantity: l.quantity })
  }
  return [...out.values()]
}

// useCutsOn gives what there is to ask about.
export function useCutsOn(beds: string[], on: string): Cut[] {
  const { known, sent, queue } = useBook()
  return cutsOn(known, sent, queue, beds, on)
}

export function CutBefore({ of, chosen, onChosen }: { of: Cut[]; chosen: string[]; onChosen: (ids: string[]) => void }) {
  const w = useWords()
  if (of.length === 0) return null
  return (
    <>
      <Pick legend={w.acts.form.cutBefore} ruled chosen={chosen} onPick={id => onChosen(toggled(chosen, id))}
        choices={of.map(c => ({ id: c.id, label: <Name>{c.crop}, {amount(w, c.quantity)}</Name>, under: c.code && <span class="mono"><Name>{c.code}</Name></span> }))} />
      <p class="note">{w.acts.form.cutBeforeNote}</p>
    </>
  )
}

// saidBefore gives the field of the record. Only lots that are still asked about are named: the day or the beds may have
// changed since.
export function saidBefore(cuts: Cut[], chosen: string[]): { cut_before?: string[] } {
  const ids = cuts.map(c => c.id).filter(id => chosen.includes(id))
  return ids.length > 0 ? { cut_before: ids } : {}
}
