//! Painting: the canvas into `pixels`' buffer, the panels around it, both onto the display.

use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::epaint::ClippedShape;
use egui::{ClippedPrimitive, Pos2, Rect, Shape, TextureId, TexturesDelta, vec2};
use egui_wgpu::{Renderer, RendererOptions, ScreenDescriptor};
use image::RgbImage;
use pixels::wgpu;
use pixels::{Pixels, PixelsBuilder, SurfaceTexture};
use winit::window::Window;

use super::WindowError;
use super::blit::Blit;
use super::capture::capture;
use super::surface::SURFACE;
use crate::panels::{Fit, Screen};

/// Owns the surface, the screen's buffer and the panels' renderer.
pub(super) struct Painter {
    pixels: Pixels<'static>,
    renderer: Renderer,
    screen: TextureId,
    canvas: (u32, u32),
    smooth: bool,
    size: (u32, u32),
    panels: Option<Panels>,
    blit: Blit,
    canvas_source: wgpu::BindGroup,
}

/// The panels as last painted, kept so that a frame of the board alone can be
/// painted over them: laying out and filling every panel costs several times
/// what a frame does.
///
/// New ones are painted a band at a time, one with every frame of the board: a
/// software driver takes longer over all of them than a frame may last.
struct Panels {
    texture: wgpu::Texture,
    source: wgpu::BindGroup,
    fresh: bool,
    /// What is being painted, and how many bands of it are still to come.
    coming: Option<(Rc<Painted>, u32)>,
    /// Band painted next.
    band: u32,
    /// When bands were last painted.
    last: Instant,
}

/// Bands the panels are painted in.
const BANDS: u32 = 16;
/// Time in which new panels are painted whole, where frames come more seldom than a band each would take.
const WHOLE_WITHIN: Duration = Duration::from_millis(240);

/// Panels laid out and cut into triangles.
pub(super) struct Painted {
    pub jobs: Vec<ClippedPrimitive>,
    pub textures: TexturesDelta,
    pub pixels_per_point: f32,
}

impl Painter {
    /// Finds a driver for the window.
    pub fn new(window: &Arc<Window>) -> Result<Self, WindowError> {
        let size = window.inner_size();
        let size = (size.width.max(1), size.height.max(1));
        // The display's own interface first; OpenGL ES where that is all there is.
        let first = pixels_on(window, size, wgpu::Backends::PRIMARY);
        let pixels = first.or_else(|_| pixels_on(window, size, wgpu::Backends::GL))?;
        let mut renderer =
            Renderer::new(pixels.device(), SURFACE, RendererOptions { dithering: false, ..Default::default() });
        let view = pixels.texture().create_view(&wgpu::TextureViewDescriptor::default());
        let screen = renderer.register_native_texture(pixels.device(), &view, wgpu::FilterMode::Nearest);
        let blit = Blit::new(pixels.device());
        let canvas_source = blit.source(pixels.device(), pixels.texture(), wgpu::FilterMode::Nearest);
        let (canvas, smooth, panels) = ((1, 1), false, None);
        Ok(Self { pixels, renderer, screen, canvas, smooth, size, panels, blit, canvas_source })
    }

    /// Greatest side of a texture, in pixels.
    pub fn most_side(&self) -> usize {
        self.pixels.device().limits().max_texture_dimension_2d as usize
    }

    /// The display's surface is of another size now.
    pub fn resize(&mut self, width: u32, height: u32) -> Result<(), WindowError> {
        let most = self.most_side() as u32;
        self.size = (width.clamp(1, most), height.clamp(1, most));
        self.drop_coming();
        self.panels = None;
        let resized = self.pixels.resize_surface(self.size.0, self.size.1);
        resized.map_err(|error| WindowError::Lost(error.to_string()))
    }

    /// Takes the canvas into the buffer.
    pub fn take_canvas(&mut self, (width, height, bytes): (u32, u32, &[u8]), fit: Fit) -> Result<(), WindowError> {
        let smooth = fit == Fit::Shape;
        if (width, height) != self.canvas || smooth != self.smooth {
            let resized = self.pixels.resize_buffer(width, height);
            resized.map_err(|error| WindowError::Lost(error.to_string()))?;
            let filter = if smooth { wgpu::FilterMode::Linear } else { wgpu::FilterMode::Nearest };
            let view = self.pixels.texture().create_view(&wgpu::TextureViewDescriptor::default());
            self.renderer.update_egui_texture_from_wgpu_texture(self.pixels.device(), &view, filter, self.screen);
            self.canvas_source = self.blit.source(self.pixels.device(), self.pixels.texture(), filter);
            (self.canvas, self.smooth) = ((width, height), smooth);
        }
        self.pixels.frame_mut().copy_from_slice(bytes);
        Ok(())
    }

    /// The texture that shows the canvas.
    pub fn screen(&self) -> Screen {
        Screen { texture: self.screen }
    }

    /// Brings panels and canvas onto the display.
    pub fn paint(&mut self, painted: &Painted) -> Result<(), WindowError> {
        self.take_textures(painted);
        self.drop_coming();
        if let Some(panels) = &mut self.panels {
            panels.fresh = false;
        }
        let shown = self.present(painted);
        self.free_textures(painted);
        shown
    }

    /// Paints the panels aside, for [`paint_over`](Self::paint_over): at once,
    /// or where older ones are there to be seen meanwhile, band by band.
    pub fn keep_panels(&mut self, painted: &Rc<Painted>) {
        self.take_textures(painted);
        self.drop_coming();
        let mut panels = self.panels.take().unwrap_or_else(|| self.new_panels());
        panels.coming = Some((Rc::clone(painted), BANDS));
        let at_once = if panels.fresh { 0 } else { BANDS };
        panels.fresh = true;
        self.panels = Some(panels);
        (0..at_once).for_each(|_| self.paint_band());
    }

    /// Lets go of panels not yet painted whole; newer ones follow.
    fn drop_coming(&mut self) {
        if let Some((painted, _)) = self.panels.as_mut().and_then(|panels| panels.coming.take()) {
            self.free_textures(&painted);
        }
    }

    /// Whether kept panels are still being painted.
    pub fn is_painting_panels(&self) -> bool {
        self.panels.as_ref().is_some_and(|panels| panels.coming.is_some())
    }

    /// Bands to be painted with this frame: one, or more where frames are far apart.
    fn bands_due(&mut self) -> u32 {
        let Some(panels) = &mut self.panels else {
            return 0;
        };
        let passed = panels.last.elapsed().as_secs_f64();
        panels.last = Instant::now();
        let due = (passed / WHOLE_WITHIN.as_secs_f64() * f64::from(BANDS)).round();
        (due as u32).clamp(1, BANDS)
    }

    /// Paints the next band of the panels that are coming.
    fn paint_band(&mut self) {
        let Some(panels) = &mut self.panels else {
            return;
        };
        let Some((painted, left)) = panels.coming.take() else {
            return;
        };
        let height = self.size.1 as f32 / painted.pixels_per_point / BANDS as f32;
        let band = Rect::from_x_y_ranges(
            f32::NEG_INFINITY..=f32::INFINITY,
            panels.band as f32 * height..=(panels.band + 1) as f32 * height,
        );
        panels.band = (panels.band + 1) % BANDS;
        let inside = |job: &ClippedPrimitive| {
            let clip_rect = job.clip_rect.intersect(band);
            clip_rect.is_positive().then(|| ClippedPrimitive { clip_rect, primitive: job.primitive.clone() })
        };
        let jobs: Vec<ClippedPrimitive> = painted.jobs.iter().filter_map(inside).collect();
        let descriptor =
            ScreenDescriptor { size_in_pixels: self.size.into(), pixels_per_point: painted.pixels_per_point };
        let (device, queue) = (self.pixels.device(), self.pixels.queue());
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let more = self.renderer.update_buffers(device, queue, &mut encoder, &jobs, &descriptor);
        queue.submit(more);
        let view = panels.texture.create_view(&wgpu::TextureViewDescriptor::default());
        // The panels fill every point of the window, so nothing has to be cleared.
        self.renderer.render(&mut begin(&mut encoder, &view, wgpu::LoadOp::Load), &jobs, &descriptor);
        queue.submit([encoder.finish()]);
        match left {
            1 => self.free_textures(&painted),
            left => panels.coming = Some((painted, left - 1)),
        }
    }

    /// Whether panels are kept that still hold.
    pub fn has_panels(&self) -> bool {
        self.panels.as_ref().is_some_and(|panels| panels.fresh)
    }

    /// Brings the kept panels onto the display, the canvas at `place` (in
    /// points), and its marks over it.
    pub fn paint_over(&mut self, ctx: &egui::Context, place: Rect, marks: Vec<Shape>) -> Result<(), WindowError> {
        (0..self.bands_due()).for_each(|_| self.paint_band());
        let Some(panels) = self.panels.as_ref().filter(|panels| panels.fresh) else {
            return Ok(());
        };
        let pixels_per_point = ctx.pixels_per_point();
        let everywhere = Rect::from_min_size(Pos2::ZERO, vec2(self.size.0 as f32, self.size.1 as f32));
        let area = (place * pixels_per_point).intersect(everywhere);
        let area = [area.left(), area.top(), area.width().max(1.0), area.height().max(1.0)];
        let clipped = |shape| ClippedShape { clip_rect: place, shape };
        let jobs = ctx.tessellate(marks.into_iter().map(clipped).collect(), pixels_per_point);
        let descriptor = ScreenDescriptor { size_in_pixels: self.size.into(), pixels_per_point };
        let (renderer, blit, size) = (&mut self.renderer, &self.blit, self.size);
        let (source, canvas) = (&panels.source, &self.canvas_source);
        let shown = self.pixels.render_with(|encoder, view, context| {
            let more = renderer.update_buffers(&context.device, &context.queue, encoder, &jobs, &descriptor);
            context.queue.submit(more);
            let mut pass = begin(encoder, view, wgpu::LoadOp::Clear(wgpu::Color::BLACK));
            blit.around(&mut pass, source, size, area);
            blit.stretch(&mut pass, canvas, area);
            if !jobs.is_empty() {
                renderer.render(&mut pass, &jobs, &descriptor);
            }
            Ok(())
        });
        shown.map_err(|error| WindowError::Lost(error.to_string()))
    }

    fn new_panels(&self) -> Panels {
        let (width, height) = self.size;
        let device = self.pixels.device();
        let texture = device.create_texture(&wgpu::TextureDescriptor {
            label: Some("kept panels"),
            size: wgpu::Extent3d { width, height, depth_or_array_layers: 1 },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: SURFACE,
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT | wgpu::TextureUsages::TEXTURE_BINDING,
            view_formats: &[],
        });
        let source = self.blit.source(device, &texture, wgpu::FilterMode::Nearest);
        Panels { texture, source, fresh: false, coming: None, band: 0, last: Instant::now() }
    }

    fn present(&mut self, painted: &Painted) -> Result<(), WindowError> {
        let descriptor = self.descriptor(painted);
        let renderer = &mut self.renderer;
        let shown = self.pixels.render_with(|encoder, view, context| {
            let jobs = &painted.jobs;
            let more = renderer.update_buffers(&context.device, &context.queue, encoder, jobs, &descriptor);
            context.queue.submit(more);
            draw(renderer, encoder, view, jobs, &descriptor);
            Ok(())
        });
        shown.map_err(|error| WindowError::Lost(error.to_string()))
    }

    /// The window as it was last painted, from `painted` once more.
    pub fn capture(&mut self, painted: &Painted) -> Result<RgbImage, WindowError> {
        let descriptor = self.descriptor(painted);
        // What was painted over kept panels since took the buffers' place.
        let (device, queue) = (self.pixels.device(), self.pixels.queue());
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let more = self.renderer.update_buffers(device, queue, &mut encoder, &painted.jobs, &descriptor);
        queue.submit(more.into_iter().chain([encoder.finish()]));
        let renderer = &self.renderer;
        capture(device, queue, self.size, |encoder, view| draw(renderer, encoder, view, &painted.jobs, &descriptor))
    }

    fn descriptor(&self, painted: &Painted) -> ScreenDescriptor {
        ScreenDescriptor { size_in_pixels: self.size.into(), pixels_per_point: painted.pixels_per_point }
    }

    fn take_textures(&mut self, painted: &Painted) {
        for (id, delta) in &painted.textures.set {
            self.renderer.update_texture(self.pixels.device(), self.pixels.queue(), *id, delta);
        }
    }

    fn free_textures(&mut self, painted: &Painted) {
        painted.textures.free.iter().for_each(|id| self.renderer.free_texture(id));
    }
}

/// A surface on the window, through drivers of some kind.
fn pixels_on(
    window: &Arc<Window>,
    (width, height): (u32, u32),
    backends: wgpu::Backends,
) -> Result<Pixels<'static>, WindowError> {
    let surface = SurfaceTexture::new(width, height, Arc::clone(window));
    PixelsBuilder::new(1, 1, surface)
        .wgpu_backend(backends)
        .texture_format(wgpu::TextureFormat::Rgba8Unorm)
        .surface_texture_format(SURFACE)
        .render_texture_format(SURFACE)
        // The board's rate, not the display's, says when a frame is shown.
        .present_mode(wgpu::PresentMode::AutoNoVsync)
        .build()
        .map_err(|error| WindowError::Driver(error.to_string()))
}

/// One pass that draws the panels on a cleared ground.
fn draw(
    renderer: &Renderer,
    encoder: &mut wgpu::CommandEncoder,
    view: &wgpu::TextureView,
    jobs: &[ClippedPrimitive],
    descriptor: &ScreenDescriptor,
) {
    let ground = wgpu::LoadOp::Clear(wgpu::Color::BLACK);
    renderer.render(&mut begin(encoder, view, ground), jobs, descriptor);
}

/// A pass over what is there, or over a cleared ground.
fn begin(
    encoder: &mut wgpu::CommandEncoder,
    view: &wgpu::TextureView,
    load: wgpu::LoadOp<wgpu::Color>,
) -> wgpu::RenderPass<'static> {
    let attachment = wgpu::RenderPassColorAttachment {
        view,
        depth_slice: None,
        resolve_target: None,
        ops: wgpu::Operations { load, store: wgpu::StoreOp::Store },
    };
    let descriptor = wgpu::RenderPassDescriptor {
        label: Some("panels"),
        color_attachments: &[Some(attachment)],
        ..Default::default()
    };
    encoder.begin_render_pass(&descriptor).forget_lifetime()
}
