// The names of the desk's places. They come with the first load, because the column of places shows them.

export const deskPlacesEn = {
  desk: 'Desk', setup: 'From nothing to the first label', people: 'People', farm: 'Farm and rules', things: 'What the farm has', layout: 'Lay beds anew', files: 'Reports and certificates',
  papers: 'Papers', messages: 'Daily messages', links: 'Links for buyers', recalls: 'Recalls and drills', imports: 'Read in tables', book: 'The book',
}

export const deskPlacesEs: typeof deskPlacesEn = {
  desk: 'Escritorio', setup: 'De nada a la primera etiqueta', people: 'Personas', farm: 'Granja y reglas', things: 'Lo que tiene la granja', layout: 'Cambiar las camas', files: 'Informes y certificados',
  papers: 'Papeles', messages: 'Mensajes diarios', links: 'Enlaces para compradores', recalls: 'Retiros y simulacros', imports: 'Leer tablas', book: 'El libro',
}
