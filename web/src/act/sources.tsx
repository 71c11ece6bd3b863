// Water sources: what each may be used for today and why, and the chart of its samples.

import { useAnswer } from '../book/now'
import type { Reason, Verdict } from '../book/records'
import { useBook } from '../book/state'
import { Far } from '../parts/far'
import { Helper, Name, Page } from '../parts/page'
import { FileButton, Picture, PrintButton } from '../parts/picture'
import { Reasons, VerdictWord } from '../parts/verdict'
import type { Place } from '../route'
import { day, useWords } from '../words/words'

interface SourceAnswer {
  id: string
  name: string
  kind: string
  tests_due_on?: string
  statistics?: { n: number; geometric_mean?: string | number; statistical_threshold_value?: string | number }
  fitness: { use: string; verdict: Verdict; reasons: Reason[] }[]
}

export function Sources({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.water
  const { known } = useBook()
  const id = place.parts[1]
  if (id) return <One id={id} />
  const sources = known?.sources ?? []
  return (
    <Page title={w.acts.more.sources}>
      {known && sources.length === 0 && <p>{w.acts.form.noSource}</p>}
      <ul class="acts-list">{sources.map(s => <li key={s.id}><a href={'/app/sources/' + s.id}><b><Name>{s.name}</Name></b> <span>{t.kinds[s.kind] ?? s.kind}</span></a></li>)}</ul>
      <Helper />
    </Page>
  )
}

function One({ id }: { id: string }) {
  const w = useWords()
  const t = w.acts.water
  const { language } = useBook()
  const source = useAnswer<SourceAnswer>('/v1/water-sources/' + id)
  const s = source.value
  const figure = (value?: string | number) => value === undefined ? '–' : Number(value).toLocaleString(w.locale, { maximumFractionDigits: 1 })
  return (
    <Page title={s ? <Name>{s.name}</Name> : w.acts.more.water} under={s && (t.kinds[s.kind] ?? s.kind)}>
      <Far of={source} />
      {s && (
        <>
          <Picture path={`/v1/water-sources/${id}/chart.svg?language=${language}`} alt={t.chart(s.name)} />
          {s.statistics && s.statistics.n > 0 && s.statistics.geometric_mean !== undefined && <p>{t.figures(s.statistics.n, figure(s.statistics.geometric_mean), figure(s.statistics.statistical_threshold_value))}</p>}
          {s.tests_due_on && <p><b>{t.due(day(w, s.tests_due_on))}</b></p>}
          {s.fitness.map(f => (
            <section class="leaf" key={f.use}>
              <h2>{t.uses[f.use] ?? f.use}</h2>
              <p><VerdictWord verdict={f.verdict} /></p>
              <Reasons reasons={f.reasons} />
            </section>
          ))}
          <p class="acts"><a class="go" href="/app/water/test">{w.mend.test.tested}</a><a class="go" href={'/app/holds/new?water=' + id}>{w.mend.holds.put}</a></p>
          <p class="acts"><FileButton path={`/v1/water-sources/${id}/report.pdf?language=${language}`} name={`water-${id.slice(0, 8)}.pdf`}>{t.report}</FileButton><PrintButton /></p>
        </>
      )}
      <Helper />
    </Page>
  )
}
