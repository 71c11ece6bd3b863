// A compost batch: its temperatures as a chart, and the same day by day in words.

import { useAnswer } from '../book/now'
import type { BatchAnswer } from '../book/records'
import { useBook } from '../book/state'
import { Far } from '../parts/far'
import { Helper, Name, Page } from '../parts/page'
import { FileButton, Picture, PrintButton } from '../parts/picture'
import type { Place } from '../route'
import { amount, day, useWords } from '../words/words'

interface Read { readings: { taken_at: string; probe: string; temperature: { value: string; unit: string } }[] }

// coldest gives the lowest reading of each day: the point that counts.
export function coldest(list: Read[]): { on: string; probe: string; value: string; unit: string }[] {
  const days = new Map<string, { on: string; probe: string; value: string; unit: string }>()
  for (const r of list.flatMap(x => x.readings)) {
    const on = r.taken_at.slice(0, 10)
    const old = days.get(on)
    if (!old || Number(r.temperature.value) < Number(old.value)) days.set(on, { on, probe: r.probe, ...r.temperature })
  }
  return [...days.values()].sort((a, b) => b.on.localeCompare(a.on))
}

export function BatchPage({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.batch
  const { language } = useBook()
  const id = place.parts[1] ?? ''
  const batch = useAnswer<BatchAnswer>('/v1/compost-batches/' + id)
  const readings = useAnswer<Read[]>(`/v1/compost-temperatures?compost_batch_id=${id}&limit=100`)
  const b = batch.value
  return (
    <Page title={b ? <Name>{b.code}</Name> : t.title} under={b && (w.pile.standing[b.standing] ?? b.standing)}>
      <Far of={batch} />
      {b && (
        <>
          <Picture path={`/v1/compost-batches/${id}/chart.svg?language=${language}`} alt={t.chart(b.code)} />
          <ul class="plain">
            {b.process.map(p => (
              <li key={p.set}>
                <b>{w.sets[p.set] ?? p.set}</b>: {w.pile.outcome[p.outcome] ?? p.outcome}{p.met_on && <>, {day(w, p.met_on)}</>}. {w.pile.counted(p.counted_days?.length ?? 0, p.turnings_counted ?? 0)}
                {p.counted_days && p.counted_days.length > 0 && <p class="cite">{t.day}: {p.counted_days.map(d => day(w, d)).join('; ')}</p>}
              </li>
            ))}
          </ul>
          <section class="leaf">
            <h2>{t.readings}</h2>
            <p class="cite">{t.coldest}</p>
            <ul class="plain">{coldest(readings.value ?? []).slice(0, 60).map(r => <li key={r.on}>{day(w, r.on)}: <b>{amount(w, { value: r.value, unit: r.unit })}</b>, <Name>{r.probe}</Name></li>)}</ul>
          </section>
          <p class="acts"><FileButton path={`/v1/compost-batches/${id}/report.pdf?language=${language}`} name={`batch-${b.code}.pdf`}>{t.report}</FileButton><PrintButton /></p>
        </>
      )}
      <Helper />
    </Page>
  )
}
