//! The display's surface: what the window is drawn on.
//!
//! A frame is presented or it is not: nothing here tries again. A surface that
//! no longer fits its window is reported to the event loop, which goes on
//! reading events and sets it up for the window's newest size.

use std::sync::Arc;

use wgpu::CurrentSurfaceTexture as Texture;
use winit::window::Window;

use super::WindowError;

/// Format of the display's surface: levels as they are, which is how `egui` paints.
pub(super) const SURFACE: wgpu::TextureFormat = wgpu::TextureFormat::Bgra8Unorm;

/// Frames the display may hold back.
const MOST_WAITING: u32 = 2;

/// What became of a frame that was to be shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Presented {
    /// It is on the display.
    Shown,
    /// The display takes none now: the window is covered, or the display is busy.
    Skipped,
    /// The surface no longer fits the window and has to be set up again.
    Outdated,
}

/// The surface of a window, and the device that draws on it.
pub(super) struct DisplaySurface {
    pub device: wgpu::Device,
    pub queue: wgpu::Queue,
    surface: wgpu::Surface<'static>,
    size: (u32, u32),
    /// Whether frames are best copied together, pixel by pixel: a software driver draws, and the display's frames can
    /// be copied to.
    copies: bool,
}

impl DisplaySurface {
    /// A surface on the window, through drivers of some kind.
    ///
    /// # Errors
    /// Where there is no driver of that kind.
    pub fn new(window: &Arc<Window>, size: (u32, u32), backends: wgpu::Backends) -> Result<Self, WindowError> {
        let surface = pollster::block_on(Self::open(window, size, backends)).map_err(WindowError::Driver)?;
        surface.configure();
        Ok(surface)
    }

    async fn open(window: &Arc<Window>, size: (u32, u32), backends: wgpu::Backends) -> Result<Self, String> {
        let descriptor = wgpu::InstanceDescriptor::new_without_display_handle().with_env();
        let instance = wgpu::Instance::new(wgpu::InstanceDescriptor { backends, ..descriptor });
        let surface = instance.create_surface(Arc::clone(window)).map_err(|error| error.to_string())?;
        let adapter = match wgpu::util::initialize_adapter_from_env(&instance, Some(&surface)).await {
            Ok(adapter) => adapter,
            Err(_) => {
                let options = wgpu::RequestAdapterOptions { compatible_surface: Some(&surface), ..Default::default() };
                instance.request_adapter(&options).await.map_err(|error| error.to_string())?
            }
        };
        let descriptor = wgpu::DeviceDescriptor { required_limits: adapter.limits(), ..Default::default() };
        let (device, queue) = adapter.request_device(&descriptor).await.map_err(|error| error.to_string())?;
        let usages = surface.get_capabilities(&adapter).usages;
        let is_software = adapter.get_info().device_type == wgpu::DeviceType::Cpu;
        let copies = is_software && usages.contains(wgpu::TextureUsages::COPY_DST);
        Ok(Self { device, queue, surface, size, copies })
    }

    /// Greatest side of a texture, in pixels.
    pub fn max_side(&self) -> u32 {
        self.device.limits().max_texture_dimension_2d
    }

    /// Whether frames are best copied together on the processor, which draws in any case.
    pub fn copies(&self) -> bool {
        self.copies
    }

    /// Size in pixels for which it is set up.
    pub fn size(&self) -> (u32, u32) {
        self.size
    }

    /// Sets the surface up for a window of some size in pixels.
    pub fn resize(&mut self, (width, height): (u32, u32)) {
        let most = self.max_side();
        self.size = (width.clamp(1, most), height.clamp(1, most));
        self.configure();
    }

    fn configure(&self) {
        let copied = if self.copies { wgpu::TextureUsages::COPY_DST } else { wgpu::TextureUsages::empty() };
        let configuration = wgpu::SurfaceConfiguration {
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT | copied,
            format: SURFACE,
            width: self.size.0,
            height: self.size.1,
            // The board's rate, not the display's, says when a frame is shown.
            present_mode: wgpu::PresentMode::AutoNoVsync,
            desired_maximum_frame_latency: MOST_WAITING,
            alpha_mode: wgpu::CompositeAlphaMode::Auto,
            view_formats: Vec::new(),
        };
        self.surface.configure(&self.device, &configuration);
    }

    /// Draws one frame and shows it, where the display takes one now. Tried once.
    ///
    /// # Errors
    /// Where the driver failed.
    pub fn present(
        &self,
        draw: impl FnOnce(&mut wgpu::CommandEncoder, &wgpu::Texture, &wgpu::TextureView),
    ) -> Result<Presented, WindowError> {
        let (texture, presented) = match self.surface.get_current_texture() {
            Texture::Success(texture) => (texture, Presented::Shown),
            // It can still be drawn on, so that something is seen meanwhile.
            Texture::Suboptimal(texture) => (texture, Presented::Outdated),
            Texture::Outdated | Texture::Lost => return Ok(Presented::Outdated),
            Texture::Occluded | Texture::Timeout => return Ok(Presented::Skipped),
            Texture::Validation => return Err(WindowError::Lost("the surface is not valid".to_string())),
        };
        let mut encoder = self.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let view = texture.texture.create_view(&wgpu::TextureViewDescriptor::default());
        draw(&mut encoder, &texture.texture, &view);
        self.queue.submit([encoder.finish()]);
        texture.present();
        Ok(presented)
    }
}
