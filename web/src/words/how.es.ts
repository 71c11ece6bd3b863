// Cómo una parte de la cadena llevó a la siguiente. El servicio lo dice en inglés; lo que aquí no se conoce queda como vino.

const whole: Record<string, string> = {
  'cut as': 'se cortó como', 'was cut as': 'se cortó como', 'grew in': 'donde creció', 'grew into': 'se hizo', 'holds': 'tiene', 'lies under': 'está debajo de', 'is': 'es',
  'supplied': 'suministró', 'sown or planted from': 'de donde se sembró o plantó', 'was applied as': 'se echó como', 'went into': 'entró en', 'went on the ground of': 'se echó en la tierra de',
  'went to': 'fue a', 'sent back': 'devolvió', 'came home as': 'volvió como', 'reached': 'llegó a',
}

const begins: [string, string][] = [
  ['went in with ', 'entró con '], ['went on earlier bed ', 'se echó en la cama anterior '], ['went on bed ', 'se echó en la cama '], ['went on plot ', 'se echó en la parcela '],
]

const uses: Record<string, string> = { harvest: 'cosecha', washing: 'lavado', cooling: 'enfriado', ice: 'hielo', hands: 'manos', cleaning: 'limpieza' }

export function howEs(said: string): string {
  const known = whole[said] ?? uses[said]
  if (known) return known
  for (const [from, to] of begins) if (said.startsWith(from)) return to + said.slice(from.length)
  const [, use, tap] = /^(\w+) at (.+)$/.exec(said) ?? []
  if (use && uses[use]) return `${uses[use]} en ${tap}`
  return said.replace(/ in (\d+) crates$/, ' en $1 cajas')
}
