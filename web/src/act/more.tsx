// Every act of the book, by where people stand when they do it.

import { useBook } from '../book/state'
import { Page } from '../parts/page'
import { groupsOf } from '../parts/places'
import { useWords } from '../words/words'

export function More() {
  const w = useWords()
  const { known } = useBook()
  return (
    <Page title={w.acts.more.title}>
      {groupsOf(w, known?.me?.role).map(({ title, acts }) => (
        <section class="leaf" key={title}>
          <h2>{title}</h2>
          <ul class="acts-list">
            {acts.map(({ path, name, under }) => <li key={path}><a href={'/app/' + path}><b>{name}</b>{under && <span> {under}</span>}</a></li>)}
          </ul>
        </section>
      ))}
    </Page>
  )
}
