// Laying beds anew: which names end, which begin, and on which old ground each new bed lies, so that it keeps what the
// ground remembers. A new bed lies on all of the old ones until somebody says otherwise: too much history makes it wait, too
// little makes somebody ill.

import { useState } from 'preact/hooks'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick, toggled } from '../parts/pick'
import { Form } from './form'
import { useDesk } from './words'

interface Laid { name: string; not: string[]; length: string; width: string } // not: the old beds it does not lie on

const most = 40

export function Layout() {
  const t = useDesk().layout
  const { known } = useBook()
  const [d, put] = useDraft({ plot: '', on: today(), old: [] as string[], base: '' })
  const [rows, setRows] = useState<Laid[]>([])
  const unit = known?.farm.units === 'metric' ? 'm' : 'ft'
  const beds = (known?.beds ?? []).filter(b => b.plot_id === d.plot && !b.to && !b.voided).sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }))
  const old = beds.filter(b => d.old.includes(b.id))
  const count = (n: number) => setRows(Array.from({ length: Math.min(most, n) }, (_, i) => rows[i] ?? { name: `${d.base.trim()} ${i + 1}`.trim(), not: [], length: '', width: '' }))
  const change = (i: number, part: Partial<Laid>) => setRows(rows.map((r, j) => (j === i ? { ...r, ...part } : r)))
  const side = (value: string) => (Number(value) > 0 ? { value, unit } : undefined)
  const over = (r: Laid) => old.filter(b => !r.not.includes(b.id)).map(b => b.id)
  return (
    <Page title={t.title} under={t.lead}>
      <Form path="/v1/bed-layouts" label={t.go} said={t.done} onDone={() => { put({ old: [], base: '' }); setRows([]) }}
        missing={[!d.plot && t.plot, rows.length === 0 && t.many, rows.some(r => !r.name.trim()) && t.name, old.length > 0 && rows.some(r => over(r).length === 0) && t.nowhere]}
        body={() => ({
          plot_id: d.plot, on: d.on, retire: old.map(b => b.id),
          lay: rows.map(r => ({ name: r.name.trim(), over: over(r), ...(side(r.length) ? { length: side(r.length) } : {}), ...(side(r.width) ? { width: side(r.width) } : {}) })),
        })}>
        <Pick legend={t.plot} chosen={[d.plot]} onPick={plot => { put({ plot, old: [] }); setRows([]) }} choices={(known?.plots ?? []).map(p => ({ id: p.id, label: <Name>{p.name}</Name> }))} />
        {beds.length > 0 && <Pick legend={t.ends} chosen={d.old} onPick={id => put({ old: toggled(d.old, id) })} choices={beds.map(b => ({ id: b.id, label: <Name>{b.name}</Name> }))} />}
        <Text kind="date" label={t.on} value={d.on} onValue={on => put({ on })} />
        <div class="pair">
          <Text label={t.base} value={d.base} onValue={base => put({ base })} />
          <Text label={t.many} value={rows.length ? String(rows.length) : ''} onValue={n => count(Number(n.replace(/\D/g, '')))} />
        </div>
        {rows.length > 0 && (
          <>
            {old.length > 0 && <p>{t.all}</p>}
            <div class="wide-table" tabIndex={0} role="group" aria-label={t.table}>
              <table class="lines-table">
                <thead><tr><th scope="col">{t.name}</th>{old.map(b => <th key={b.id} scope="col">{t.over} <Name>{b.name}</Name></th>)}<th scope="col">{t.length}, {unit}</th><th scope="col">{t.width}, {unit}</th></tr></thead>
                <tbody>
                  {rows.map((r, i) => (
                    <tr key={i}>
                      <td><input type="text" aria-label={`${t.name} ${i + 1}`} value={r.name} onInput={e => change(i, { name: e.currentTarget.value })} /></td>
                      {old.map(b => (
                        <td key={b.id}><input type="checkbox" aria-label={t.lies(r.name, b.name)} checked={!r.not.includes(b.id)} onChange={() => change(i, { not: toggled(r.not, b.id) })} /></td>
                      ))}
                      <td><input class="short" inputMode="decimal" aria-label={`${t.length} ${r.name}`} value={r.length} onInput={e => change(i, { length: e.currentTarget.value.replace(',', '.') })} /></td>
                      <td><input class="short" inputMode="decimal" aria-label={`${t.width} ${r.name}`} value={r.width} onInput={e => change(i, { width: e.currentTarget.value.replace(',', '.') })} /></td>
                    </tr>
                  ))}
                </tbody>
              </table>
            </div>
          </>
        )}
      </Form>
      <Helper />
    </Page>
  )
}
