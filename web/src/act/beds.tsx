// All beds as a plan: each plot with its beds as bars, as long and wide as they are beside each other.

import { seenHere, untold, type Seen } from '../book/judge'
import type { Bed } from '../book/records'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { Helper, Name, Page } from '../parts/page'
import { Stale, VerdictWord, Why } from '../parts/verdict'
import { day, useWords } from '../words/words'

const number = (text: string | undefined) => Number(text ?? 0)

export function Beds() {
  const w = useWords()
  const { known, queue, sent } = useBook()
  const now = today()
  const seen = (known?.checks ?? []).map(c => seenHere(c, known!.on, now, untold(queue, sent, known!.at)))
  return (
    <Page title={w.plan.title} under={w.plan.lead}>
      {known?.plots.map(plot => {
        const beds = known.beds.filter(b => b.plot_id === plot.id && (!b.to || b.to > now))
          .sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }))
        const longest = Math.max(...beds.map(b => number(b.length?.value)), 1)
        return beds.length > 0 && (
          <section class="leaf plot" key={plot.id}>
            <h2><Name>{plot.name}</Name></h2>
            <ul class="plan">{beds.map(b => <Bar key={b.id} bed={b} share={b.length ? number(b.length.value) / longest : 1} seen={seen.filter(c => c.bed_id === b.id)} />)}</ul>
          </section>
        )
      })}
      <Stale />
      <Helper />
    </Page>
  )
}

function Bar({ bed, share, seen }: { bed: Bed; share: number; seen: Seen[] }) {
  const w = useWords()
  return (
    <li style={{ width: Math.max(55, Math.round(share * 100)) + '%' }}>
      <a href={'/app/bed/' + bed.id} style={{ minHeight: 14 * Math.max(4, Math.min(12, number(bed.width?.value))) + 'px' }}>
        <b><Name>{bed.name}</Name></b>
        {seen.length === 0 && <span class="of">{bed.in_production === false ? w.bed.outOfUse : w.plan.nothing}</span>}
        {seen.map(c => (
          <div key={c.planting_id}>
            <span class="of"><VerdictWord verdict={c.verdict} /> <Name>{c.crop}</Name></span>
            {c.verdict === 'wait' && c.clear_on && <span>{w.today.opensOn(day(w, c.clear_on))}</span>}
            {c.verdict !== 'clear' && <Why check={c} />}
          </div>
        ))}
      </a>
    </li>
  )
}
