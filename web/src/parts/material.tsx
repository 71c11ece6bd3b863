// Picking what went on the ground, by its name and where it came from.

import type { ComponentChildren } from 'preact'
import type { Material } from '../book/materials'
import { day, useWords } from '../words/words'
import { Name } from './page'
import { Pick } from './pick'

export function MaterialPick({ legend, of, chosen, onPick }: { legend: ComponentChildren; of: Material[]; chosen?: string; onPick: (id: string) => void }) {
  const w = useWords()
  return (
    <Pick legend={legend} ruled chosen={chosen ? [chosen] : []} onPick={onPick} choices={of.map(m => ({
      id: m.id, label: <Name>{m.name}</Name>, under: m.supplier ? <Name>{w.spread.delivery(m.supplier, day(w, m.on))}</Name> : w.spread.batch,
    }))} />
  )
}
