// The places of the book. On a phone they are five at the foot of the page, the others stand under the last of them; on a
// laptop all of them stand in a column beside the page.

import { atLeast } from '../book/role'
import { useBook } from '../book/state'
import { deskPlacesEn, deskPlacesEs } from '../words/places'
import { useWords, type Words } from '../words/words'

const tabs = ['today', 'cut', 'pile', 'code', 'more'] as const

export interface Act { path: string; name: string; under?: string }
export interface Group { title: string; acts: Act[] }

// groupsOf gives every act that has no tab, by where people stand when they do it.
export function groupsOf(w: Words, role: string | undefined): Group[] {
  const m = w.acts.more
  const lead = atLeast(role, 'lead')
  const of = (...paths: (keyof typeof m & string)[]): Act[] => paths.map(path => ({ path: path === 'plan' ? 'beds' : path, name: m[path] as string, under: m.under[path] }))
  const n = w.mend.more
  const also = (...paths: ('lately' | 'holds' | 'back' | 'lost' | 'deliver')[]): Act[] => paths.map(path => ({ path, name: n[path], under: n.under[path] }))
  return [
    { title: m.field, acts: [...of('spread', 'spray', 'seen', 'water', 'graze'), ...also('holds'), ...of('plan')] },
    { title: m.shed, acts: [...of('pack', 'load'), ...also('back', 'deliver', 'lost'), ...of('log')] },
    { title: m.papers, acts: [...also('lately'), ...(lead ? of('sign', 'ask') : []), ...of('alerts', 'sources')] },
    ...(lead ? [{ title: m.desk, acts: [{ path: 'desk', name: m.toDesk, under: m.under.desk }] }] : []),
  ]
}

// tabOf says which place lights up: what stands under More lights that up.
function tabOf(name: string): string {
  const own = { batch: 'pile', chain: 'code', labels: 'code' }[name]
  return own ?? ((tabs as readonly string[]).includes(name) || ['bed', 'beds', 'waiting', 'entry', 'me'].includes(name) ? name : 'more')
}

export function Places({ name, desk }: { name: string; desk: boolean }) {
  const { language, known } = useBook()
  const w = useWords()
  const names = language === 'es' ? deskPlacesEs : deskPlacesEn
  const lit = { bed: 'beds', batch: 'pile', chain: 'code', labels: 'code', mend: 'lately' }[name] ?? (desk ? 'desk' : name)
  const groups = groupsOf(w, known?.me?.role)
  const isDesk = (g: Group) => g.title === w.acts.more.desk // it comes early, so that it is seen without scrolling
  const at = (path: string, label: string, on: boolean) => <a key={path} href={'/app/' + path} aria-current={on ? (path === name ? 'page' : 'true') : undefined}>{label}</a>
  return (
    <>
      <nav class="tabs" aria-label={w.places}>{tabs.map(tab => at(tab, tab === 'more' ? w.acts.more.tab : w.tab[tab], tab === tabOf(name)))}</nav>
      <nav class="column" aria-label={w.places}>
        {(['today', 'cut', 'pile', 'code'] as const).map(tab => at(tab, w.tab[tab], tab === lit))}
        {[...groups.filter(isDesk), ...groups.filter(g => !isDesk(g))].map(g => <div key={g.title}>{g.acts.map(a => at(a.path, a.path === 'desk' ? w.acts.more.desk : a.name, a.path === lit))}</div>)}
      </nav>
      {desk && name !== 'first' && <nav class="column second" aria-label={names.desk}>{Object.entries(names).filter(([path]) => path !== 'desk').map(([path, label]) => at(path, label, path === name))}</nav>}
    </>
  )
}
