// From nothing to the first label: each step says whether it is done, and the one to do is open.

import { useState } from 'preact/hooks'
import { change, useBook } from '../book/state'
import { today } from '../book/sync'
import { BedsField, OneOf, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { useWords } from '../words/words'
import { Form } from './form'
import { useDesk } from './words'

// few names the first of a list, each of them whole, and says how many there are.
const few = (names: string[]): string => names.slice(0, 8).join('; ') + (names.length > 8 ? ` … (${names.length})` : '')

export function Setup() {
  const w = useWords()
  const t = useDesk().setup
  const { known, firstToken } = useBook()
  const [open, setOpen] = useState('')
  if (!known) return <Page title={t.title}><p role="status">{w.working}</p></Page>
  const steps: [string, string, string, preact.JSX.Element][] = [
    ['plot', t.plot, few(known.plots.map(p => p.name)), <PlotStep />], ['beds', t.beds, known.beds.length > 0 ? t.madeBeds(known.beds.length) : '', <BedsStep />],
    ['crop', t.crop, few(known.crops.map(c => c.name)), <CropStep />], ['planting', t.planting, few(known.checks.map(c => `${c.crop}, ${c.bed}`)), <PlantingStep />],
  ]
  const next = steps.find(([, , done]) => !done)?.[0] ?? 'cut'
  return (
    <Page title={t.title} under={<Name>{known.farm.name}</Name>}>
      {firstToken && (
        <section class="refusal">
          <p>{t.token}</p>
          <p class="code"><Name>{firstToken}</Name></p>
          <button type="button" onClick={() => change({ firstToken: '' })}>{t.tokenDone}</button>
        </section>
      )}
      <ol class="stairs">
        {steps.map(([key, title, done, form]) => (
          <li key={key} class={done ? 'done' : ''}>
            <h2>{title}{done && <> <span class="count">{t.done}</span></>}</h2>
            {done && <p><Name>{done}</Name></p>}
            {(key === next || key === open) ? form : done ? <button type="button" onClick={() => setOpen(key)}>{t.more}<span class="unseen"> {title}</span></button> : null}
          </li>
        ))}
        <li>
          <h2>{t.cut}</h2>
          <p>{t.cutLead}</p>
          {next === 'cut' && <p><a class="go main" href="/app/cut">{t.cut}</a></p>}
        </li>
      </ol>
      <p class="acts"><a class="go" href="/app/people">{t.people}</a><a class="go" href="/app/things">{useDesk().things.title}</a></p>
      <Helper />
    </Page>
  )
}

function PlotStep() {
  const t = useDesk().setup
  const [d, put] = useDraft({ name: '', history: '' })
  return (
    <Form path="/v1/plots" label={t.go} missing={[!d.name.trim() && t.plotName, !d.history && t.plotLead]} body={() => ({ name: d.name.trim(), history: d.history })}>
      <Text label={t.plotName} value={d.name} onValue={name => put({ name })} />
      <Pick legend={t.plotLead} three chosen={[d.history]} onPick={history => put({ history })} choices={[{ id: 'known', label: t.known }, { id: 'unknown', label: t.unknown }]} />
    </Form>
  )
}

function BedsStep() {
  const t = useDesk().setup
  const { known } = useBook()
  const [d, put] = useDraft({ plot: known!.plots[0]?.id ?? '', name: known!.plots[0]?.name ?? '', many: '1', length: '', width: '' })
  const many = Math.min(60, Math.max(0, Math.floor(Number(d.many) || 0)))
  const unit = known!.farm.units === 'metric' ? 'm' : 'ft'
  const size = (value: string) => (Number(value) > 0 ? { value, unit } : undefined)
  const first = known!.beds.filter(b => b.plot_id === d.plot).length
  return (
    <Form path="/v1/beds" label={t.go} missing={[!d.name.trim() && t.bedName, many === 0 && t.howMany]}
      body={() => Array.from({ length: many }, (_, i) => ({
        name: `${d.name.trim()} ${first + i + 1}`, plot_id: d.plot, from: today(), ...(size(d.length) ? { length: size(d.length) } : {}), ...(size(d.width) ? { width: size(d.width) } : {}),
      }))}>
      {known!.plots.length > 1 && <Pick legend={t.plot} chosen={[d.plot]} onPick={plot => put({ plot, name: known!.plots.find(p => p.id === plot)?.name ?? d.name })} choices={known!.plots.map(p => ({ id: p.id, label: <Name>{p.name}</Name> }))} />}
      <Text label={t.bedName} value={d.name} onValue={name => put({ name })} />
      <Text label={t.howMany} value={d.many} onValue={many => put({ many: many.replace(/\D/g, '') })} />
      <Text label={`${t.length}, ${unit}`} value={d.length} onValue={length => put({ length })} />
      <Text label={`${t.width}, ${unit}`} value={d.width} onValue={width => put({ width })} />
    </Form>
  )
}

function CropStep() {
  const t = useDesk().setup
  const [d, put] = useDraft({ name: '', contact: '' })
  return (
    <Form path="/v1/crops" label={t.go} missing={[!d.name.trim() && t.cropName, !d.contact && t.contact]} body={() => ({ name: d.name.trim(), soil_contact: d.contact })}>
      <Text label={t.cropName} value={d.name} onValue={name => put({ name })} />
      <OneOf legend={t.contact} of={t.contacts} value={d.contact} onValue={contact => put({ contact })} />
    </Form>
  )
}

function PlantingStep() {
  const t = useDesk().setup
  const { known } = useBook()
  const [d, put] = useDraft({ crop: known!.crops.length === 1 ? known!.crops[0]!.id : '', beds: known!.beds.length === 1 ? [known!.beds[0]!.id] : [] as string[], on: today() })
  return (
    <Form path="/v1/plantings" label={t.go} missing={[!d.crop && t.crop, d.beds.length === 0 && t.where]} body={() => ({ crop_id: d.crop, bed_ids: d.beds, planted_on: d.on })}>
      <Pick legend={t.crop} chosen={[d.crop]} onPick={crop => put({ crop })} choices={known!.crops.map(c => ({ id: c.id, label: <Name>{c.name}</Name> }))} />
      <BedsField chosen={d.beds} onChosen={beds => put({ beds })} />
      <Text kind="date" label={t.planted} value={d.on} onValue={on => put({ on })} />
    </Form>
  )
}
