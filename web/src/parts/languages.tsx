// The switch between the languages, each named in itself.

import type { Language } from '../book/state'

export function Languages({ language, onLanguage }: { language: Language; onLanguage: (l: Language) => void }) {
  return (
    <div class="languages" role="group" aria-label="Language / Idioma">
      <button type="button" lang="en" aria-pressed={language === 'en'} onClick={() => onLanguage('en')}>English</button>
      <button type="button" lang="es" aria-pressed={language === 'es'} onClick={() => onLanguage('es')}>Español</button>
    </div>
  )
}
