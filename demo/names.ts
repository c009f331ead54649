/** How the demo take is introduced on the page and in what is handed over. Players and place are invented. */
export const demoNames = {
  title: 'Slack Water',
  place: 'the net loft at Harrowmere',
  session: 'one take after supper, no click, three players round one pair of microphones',
  players: {
    guitar: { name: 'Ada Fennimoor', instrument: 'Guitar', plays: 'nylon-string guitar' },
    clarinet: { name: 'Jorun Teveldal', instrument: 'Clarinet', plays: 'clarinet' },
    drum: { name: 'Bas Okonjoli', instrument: 'Frame drum', plays: 'frame drum' },
  },
  note: 'Invented players and place; written and sounded by the code in demo/.',
} as const;

export type Player = keyof typeof demoNames.players;

/** The order in which stems, truth and pages list the players: the leader first. */
export const playerOrder: readonly Player[] = ['guitar', 'clarinet', 'drum'];
