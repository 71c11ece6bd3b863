// Every act of the book, by where people stand when they do it.

import { useBook } from '../book/state'
import { Page } from '../parts/page'
import { useWords } from '../words/words'

const roles = ['reader', 'crew', 'lead', 'owner']
export const atLeast = (role: string | undefined, need: string) => roles.indexOf(role ?? 'crew') >= roles.indexOf(need)

export function More() {
  const w = useWords()
  const { known } = useBook()
  const m = w.acts.more
  const lead = atLeast(known?.me?.role, 'lead')
  const groups: [string, [string, string, string?][]][] = [
    [m.field, [['spread', m.spread, m.under.spread], ['seen', m.seen, m.under.seen], ['water', m.water, m.under.water], ['graze', m.graze, m.under.graze], ['beds', m.plan, m.under.plan]]],
    [m.shed, [['pack', m.pack, m.under.pack], ['load', m.load, m.under.load], ['log', m.log, m.under.log]]],
    [m.papers, [...(lead ? [['sign', m.sign, m.under.sign], ['ask', m.ask, m.under.ask]] as [string, string, string][] : []), ['alerts', m.alerts, m.under.alerts], ['sources', m.sources]]],
    ...(lead ? [[m.desk, [['desk', m.toDesk, m.under.desk]]] as [string, [string, string, string?][]]] : []),
  ]
  return (
    <Page title={m.title}>
      {groups.map(([title, acts]) => (
        <section class="leaf" key={title}>
          <h2>{title}</h2>
          <ul class="acts-list">
            {acts.map(([path, name, under]) => <li key={path}><a href={'/app/' + path}><b>{name}</b>{under && <span> {under}</span>}</a></li>)}
          </ul>
        </section>
      ))}
    </Page>
  )
}
