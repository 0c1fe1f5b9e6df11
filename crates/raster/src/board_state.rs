//! Everything on a board but the beam: registers, memory, the fault, and the
//! bus they are reached by. The span path and the stepper both run on it.

use std::sync::Arc;

use backporch_adapter::{
    Adapter, Aspects, BeamSignals, Effect, FieldId, FramePosition, Guard, PortRole, Registers, SetError, Slice,
};

use crate::decoded::Decoded;
use crate::position::Beam;
use crate::stages::Stages;
use crate::tap::{Intercept, LatchMoment, MemoryWrite, PortWrite, WriteOutcome};

/// A byte on its way to a port.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PortByte {
    pub port: u16,
    pub value: u8,
    pub upper_half: bool,
}

/// A board without its beam.
#[derive(Clone, Debug)]
pub(crate) struct BoardState<T> {
    pub adapter: Arc<Adapter>,
    pub registers: Registers,
    pub memory: Vec<u8>,
    pub tap: T,
    pub decoded: Decoded,
    /// Counts everything that may change what memory shows.
    pub writes: u64,
    /// Dot at which a byte of the start address was last written.
    pub start_written: Option<u64>,
    /// A byte of the processor that takes the place of the next fetch.
    pub snow: Option<u8>,
}

impl<T: Intercept> BoardState<T> {
    /// With memory as start-up leaves it.
    pub fn new(adapter: Arc<Adapter>, registers: Registers, tap: T) -> Self {
        Self {
            decoded: Decoded::new(&adapter, &registers, &tap, 0),
            memory: adapter.memory_at_start(&registers),
            adapter,
            registers,
            tap,
            writes: 0,
            start_written: None,
            snow: None,
        }
    }

    /// Registers decoded, up to date.
    pub fn refresh(&mut self, frame: u64) -> &Decoded {
        self.decoded.refresh(&self.adapter, &self.registers, &self.tap, frame);
        &self.decoded
    }

    /// Fills memory past the bus; what does not fit is left out.
    pub fn load(&mut self, bytes: &[u8]) {
        let len = bytes.len().min(self.memory.len());
        self.memory[..len].copy_from_slice(&bytes[..len]);
        self.writes += 1;
    }

    /// Fills memory past the bus with bytes of its size, and gives those it held.
    pub fn exchange_memory(&mut self, bytes: &mut Vec<u8>) {
        if bytes.len() == self.memory.len() {
            std::mem::swap(bytes, &mut self.memory);
            self.writes += 1;
        } else {
            self.load(bytes);
        }
    }

    /// Sets a named register past the ports and any protection.
    pub fn set(&mut self, field: FieldId, value: u64) -> Result<(), SetError> {
        self.adapter.set(&mut self.registers, field, value)?;
        self.decoded.spoil(Aspects::all());
        Ok(())
    }

    /// Sets the start address past the ports.
    pub fn set_start(&mut self, start: u32) -> Result<(), SetError> {
        let field = self.adapter.start_address();
        self.adapter.set(&mut self.registers, field, u64::from(start))?;
        for cell in self.adapter.field_info(field).bits.iter().filter_map(Slice::cell) {
            self.decoded.spoil(self.adapter.aspects(cell));
        }
        Ok(())
    }

    /// Puts another fault in the place of this one.
    pub fn replace_tap(&mut self, tap: T) {
        self.tap = tap;
        self.decoded.spoil(Aspects::all());
        self.writes += 1;
    }

    /// A copy with another fault in the place of this one.
    pub fn with_tap<U: Intercept>(&self, tap: U) -> BoardState<U> {
        let mut state = BoardState {
            adapter: Arc::clone(&self.adapter),
            registers: self.registers.clone(),
            memory: self.memory.clone(),
            tap,
            decoded: self.decoded.clone(),
            writes: self.writes + 1,
            start_written: self.start_written,
            snow: self.snow,
        };
        state.decoded.spoil(Aspects::all());
        state
    }

    // ---- ports -------------------------------------------------------------

    /// A byte arrives at a port; `beam` and the scan lines to the next take-over
    /// of the start address are asked for where the fault looks at writes.
    pub fn write_port(&mut self, byte: PortByte, now: u64, beam: Option<(Beam, u32)>) {
        let PortByte { port, value, upper_half } = byte;
        let cell = self.adapter.target(&self.registers, port);
        let outcome = match beam {
            Some((Beam { dot, frame, scan_line, char, .. }, latch_line)) => {
                let role = self.adapter.port_role(&self.registers, port);
                // Even a write that is lost may have left something behind in the tap.
                self.writes += 1;
                self.tap.port(&PortWrite {
                    dot,
                    frame,
                    scan_line,
                    char,
                    port,
                    value,
                    upper_half,
                    role,
                    cell,
                    latch_line,
                })
            }
            None => WriteOutcome::Take(value, Guard::AsRegister),
        };
        let WriteOutcome::Take(value, guard) = outcome else {
            return;
        };
        match self.adapter.write(&mut self.registers, port, value, guard) {
            Effect::None | Effect::Index => {}
            Effect::Cell(cell) => {
                self.decoded.spoil(self.adapter.aspects(cell));
                let start = self.adapter.field_info(self.adapter.start_address());
                if start.bits.iter().any(|slice| slice.cell() == Some(cell)) {
                    self.start_written = Some(now);
                }
            }
            Effect::Colour(entry) => self.decoded.recolour(&self.adapter, &self.registers, &self.tap, entry),
            Effect::DacMask => self.decoded.spoil(Aspects::COLOUR),
        }
    }

    /// Reads a byte from a port while the beam is there and shows a pixel.
    pub fn read_port(&mut self, port: u16, beam: &Beam, pixel: Option<u8>) -> u8 {
        let signals = BeamSignals {
            display_enabled: beam.display,
            horizontal_sync: beam.horizontal_sync,
            vertical_sync: beam.vertical_sync,
            pixel,
        };
        self.adapter.read_port(&mut self.registers, port, &signals)
    }

    /// Whether reading a port shows what the beam draws.
    pub fn shows_pixels_at(&self, port: u16) -> bool {
        self.adapter.shows_colour_outputs() && self.adapter.port_role(&self.registers, port) == Some(PortRole::Status)
    }

    /// An access to a port, of either kind, may latch the address that the controller puts out.
    pub fn touch_light_pen(&mut self, port: u16, address: u32) {
        if self.adapter.port_role(&self.registers, port) == Some(PortRole::LightPenSet) {
            self.adapter.set_light_pen(&mut self.registers, address);
        }
    }

    /// Vertical sync begins.
    pub fn begin_vertical_sync(&mut self) {
        self.adapter.begin_vertical_sync(&mut self.registers);
    }

    // ---- memory --------------------------------------------------------------

    /// The processor writes a byte at an offset into its window.
    /// `beam` is asked for where the fault looks at such writes.
    pub fn write_memory(&mut self, offset: u32, value: u8, beam: Option<Beam>) {
        if self.decoded.is_stale(Aspects::MEMORY) {
            self.refresh_path();
        }
        let latches = self.registers.latches();
        let Some(address) = self.decoded.path.write(&mut self.memory, latches, offset, value) else {
            return;
        };
        if let Some(Beam { dot, frame, scan_line, char, .. }) = beam {
            self.tap.memory(&MemoryWrite { dot, frame, scan_line, char, address, value });
        }
        self.writes += 1;
        self.disturb(value);
    }

    /// Where a byte written at an offset into the window would go (see [`MemoryPath::written`](backporch_adapter::MemoryPath::written)).
    pub fn written_at(&mut self, offset: u32) -> Option<(u32, u32)> {
        if self.decoded.is_stale(Aspects::MEMORY) {
            self.refresh_path();
        }
        self.decoded.path.written(offset)
    }

    /// The processor reads a byte at an offset into its window.
    pub fn read_memory(&mut self, offset: u32) -> u8 {
        if self.decoded.is_stale(Aspects::MEMORY) {
            self.refresh_path();
        }
        let mut latches = self.registers.latches();
        let value = self.decoded.path.read(&self.memory, &mut latches, offset);
        self.registers.set_latches(latches);
        self.disturb(value);
        value
    }

    fn refresh_path(&mut self) {
        self.decoded.path = self.adapter.memory_path(&self.registers);
    }

    /// An access of the processor takes the place of the next fetch, on boards that have snow.
    fn disturb(&mut self, value: u8) {
        if self.decoded.shown.snow {
            self.snow = Some(value);
        }
    }

    // ---- latch ------------------------------------------------------------------

    /// Where in a frame the start address is taken over next.
    pub fn take_over(&self) -> FramePosition {
        self.decoded.take_over
    }

    /// The start address the counters get, taken over at dot `now` to be shown
    /// by `frame`; `shown` is the one until now.
    pub fn take_start(&mut self, now: u64, frame: u64, shown: u32) -> u32 {
        let start = self.adapter.get(&self.registers, self.adapter.start_address());
        if !self.tap.stages().contains(Stages::LATCH) {
            return start;
        }
        let since_write = self.start_written.map(|dot| now - dot);
        self.tap.latch(&LatchMoment { dot: now, frame, start, shown, since_write })
    }

    /// The start address of the first frame.
    pub fn first_start(&mut self) -> u32 {
        let set = self.adapter.get(&self.registers, self.adapter.start_address());
        self.take_start(0, 0, set)
    }

    /// Scan lines by which a take-over comes late.
    pub fn latch_delay(&self) -> u32 {
        if self.tap.stages().contains(Stages::LATCH) { self.tap.latch_delay() } else { 0 }
    }
}
