// What a label tells when it is scanned: the facts that everybody may see, and the farm's own GS1 numbers.

import { useState } from 'preact/hooks'
import type { Farm, GS1Item } from '../book/records'
import { useBook } from '../book/state'
import { Text } from '../parts/fields'
import { Pick, toggled } from '../parts/pick'
import { Form } from './form'
import { Said } from './said'
import { useDesk } from './words'

interface Of { farm: Farm; again: () => void }

// usual is what the book shows of a farm that chose nothing.
const usual = ['crop', 'farm']

export function Shown({ farm, again }: Of) {
  const t = useDesk().farm
  const [facts, setFacts] = useState(farm.public_page ?? usual)
  return (
    <section class="leaf">
      <h2>{t.shown}</h2>
      <Form path="/v1/farm" label={t.save} said={t.written} missing={[facts.length === 0 && t.shows]} onDone={again} body={() => ({ name: farm.name, time_zone: farm.time_zone, public_page: facts })}>
        <p>{t.shownLead}</p>
        <Pick legend={t.shows} chosen={facts} onPick={id => setFacts(toggled(facts, id))} choices={Object.entries(t.facts).map(([id, label]) => ({ id, label }))} />
      </Form>
    </section>
  )
}

// Numbers are those of a farm with a licensed company prefix. The book makes none up; what is missing leaves the farm's own
// address on the label.
export function Numbers({ farm, again }: Of) {
  const t = useDesk().farm
  const { known } = useBook()
  const [prefix, setPrefix] = useState(farm.gs1_prefix ?? '')
  const [rows, setRows] = useState<GS1Item[]>(farm.gs1_items ?? [])
  const items = rows.filter(r => r.product.trim() || r.item.trim()) // a row that was emptied goes
  const names = [...new Set((known?.crops ?? []).map(c => c.name))]
  const change = (i: number, part: Partial<GS1Item>) => setRows(rows.map((r, j) => (j === i ? { ...r, ...part } : r)))
  return (
    <section class="leaf">
      <h2>{t.numbers}</h2>
      <Form path="/v1/farm" label={t.save} said={t.written} missing={[]} onDone={again}
        body={() => ({ name: farm.name, time_zone: farm.time_zone, gs1_prefix: prefix.trim() || null, gs1_items: prefix.trim() || items.length ? items : null })}>
        {at => (
          <>
            <p>{t.numbersLead}</p>
            <Text digits label={t.prefix} value={prefix} onValue={setPrefix} slip={at('/gs1_prefix') && <Said>{at('/gs1_prefix')!}</Said>} />
            {rows.length > 0 && (
              <div class="wide-table" tabIndex={0} role="group" aria-label={t.items}>
                <table class="lines-table">
                  <thead><tr><th scope="col">{t.product}</th><th scope="col">{t.item}</th></tr></thead>
                  <tbody>
                    {rows.map((r, i) => (
                      <tr key={i}>
                        <td><input type="text" list="products" aria-label={`${t.product} ${i + 1}`} value={r.product} onInput={e => change(i, { product: e.currentTarget.value })} /></td>
                        <td><input class="short" inputMode="numeric" aria-label={`${t.item} ${i + 1}`} value={r.item} onInput={e => change(i, { item: e.currentTarget.value })} /></td>
                      </tr>
                    ))}
                  </tbody>
                </table>
                <datalist id="products">{names.map(n => <option key={n} value={n} />)}</datalist>
              </div>
            )}
            <p class="acts"><button type="button" onClick={() => setRows([...rows, { product: '', item: '' }])}>{t.oneMore}</button></p>
          </>
        )}
      </Form>
    </section>
  )
}
